"""What a browser sent, read before the handler runs and let go of after it."""

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import FormData

from server.forms.base import read_form


async def _sent(request: Request) -> AsyncIterator[FormData]:
    form = await read_form(request)
    yield form
    # Each file lies in a temporary file of its own until it is closed.
    await form.close()


Sent = Annotated[FormData, Depends(_sent)]
