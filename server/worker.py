"""The supervised process that works off the queue of measurings."""

from server.settings import Settings


class Supervisor:
    """Keeps one worker process alive."""

    def stop(self) -> None:
        """End the worker."""


def start(settings: Settings) -> Supervisor:
    """Start the worker process."""
    return Supervisor()
