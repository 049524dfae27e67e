"""The optimiser of the small networks: Adam with decoupled weight decay, beside a running mean of the weights."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import jax
import jax.numpy as jnp


def adam(loss: Callable[..., Any]) -> Callable[..., tuple[Any, Any]]:
    """One step on `loss` (weights, batch): (state, count, rate, batch) -> new state, loss.

    The state is (weights, first moments, second moments, mean of the weights); `count` begins at 1.
    """

    def advance(state: tuple[Any, ...], count: Any, rate: Any, batch: tuple[Any, ...]) -> tuple[Any, Any]:
        weights, first, second, mean = state
        value, slope = jax.value_and_grad(loss)(weights, batch)
        first = jax.tree.map(lambda m, g: 0.9 * m + 0.1 * g, first, slope)
        second = jax.tree.map(lambda v, g: 0.99 * v + 0.01 * g * g, second, slope)

        def move(p: Any, m: Any, v: Any) -> Any:
            change = m / (1 - 0.9**count) / (jnp.sqrt(v / (1 - 0.99**count)) + 1e-6)
            return p - rate * (change + (0.02 * p if p.ndim > 1 else 0))

        weights = jax.tree.map(move, weights, first, second)
        mean = jax.tree.map(lambda e, p: 0.99 * e + 0.01 * p, mean, weights)
        return (weights, first, second, mean), value

    return jax.jit(advance)  # type: ignore[no-any-return]
