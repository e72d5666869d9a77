"""The cheapest path through a row of candidates, all steps at once.

A plain dynamic programme walks the steps one by one, which numpy does slowly. Here the steps are
cut into about sqrt(n) blocks; every block finds, for each state it may begin in, the cheapest way
to each state it may end in, all blocks in step with each other; then the blocks are joined. The
work is n k^3 and the number of numpy calls sqrt(n), so the cost is linear in steps.
"""

from __future__ import annotations

import numpy as np

from locum.physics.candidates import Candidates

ERROR_K = 0.008
"""Weighs errors against excursions: 0.008 K of error is worth one ``EXCURSION_K``."""
ERROR_BAD_K = 0.025
"""Above this the price of an error rises with its eighth power."""
EXCURSION_K = 0.8
EXCURSION_BAD_K = 6.0
"""Above this the price of an excursion rises with its eighth power."""
LOWER_HOT = 0.1
"""Price per step of using fewer hot branches than the rule says: a sweep may delay a change over
its overlap to save excursion, a hold never pays for it."""
COARSE_OHM, COARSE_ERRORS = 120.0, 4.0
"""Below so many ohm an error weighs so many times less: there every code is a large step, and a
smooth path is worth more than the last hundredth."""
PLAIN_STEP_K = 0.05
"""Errors of a plan with finer steps count less each, so that its choice is the coarser plan's."""
NEVER = np.float32(1e18)


def node_cost(found: Candidates, alpha: np.ndarray, ohm: np.ndarray) -> np.ndarray:
    """Price of each candidate: its error in kelvin, and a smaller hot set. float32 [n, k]

    ``ohm`` [n] are the targets: their distance says how much one step counts.
    """
    step_k = np.abs(np.diff(np.log(ohm), append=np.log(ohm[-1]))) / alpha
    weight = np.clip(step_k / PLAIN_STEP_K, 0.05, 1.0)[:, None]
    coarse = np.where(ohm < COARSE_OHM, COARSE_ERRORS, 1.0)
    error_k = np.abs(found.error_ln) / (alpha * coarse)[:, None]
    with np.errstate(over="ignore", invalid="ignore"):
        cost = weight * ((error_k / ERROR_K) ** 2 + LOWER_HOT * found.lower_hot)
        cost += (error_k / ERROR_BAD_K) ** 8
        # Only differences within a step matter; large common parts would drown the others' digits.
        least = cost.min(axis=1, keepdims=True)
        cost -= np.where(np.isfinite(least), least, 0.0)
    return np.where(np.isfinite(cost), np.minimum(cost, NEVER), NEVER).astype(np.float32)


def edge_cost(hot_siemens, found: Candidates, scale: np.ndarray) -> np.ndarray:
    """Price of each move from a candidate of step i to one of step i+1; float32 [n-1, k, k].

    ``scale`` [n] turns siemens at a step into kelvin. The excursion is estimated from the changes
    of conductance: the largest change must be made in one write, the changes against it can be
    made before or after it, the largest of them apart from the others.
    """
    n, k, w = found.siemens.shape
    cost = np.empty((max(n - 1, 0), k, k), np.float32)
    changes = np.concatenate([found.siemens, hot_siemens[found.hot][..., None]], axis=2)
    changes = np.ascontiguousarray(np.moveaxis(changes, 2, 0), np.float32)
    for first in range(0, n - 1, 2048):
        last = min(first + 2048, n - 1)
        here, then = changes[:, first:last, :, None], changes[:, first + 1 : last + 1, None, :]
        excursion = _estimate([then[j] - here[j] for j in range(w + 1)])
        excursion *= scale[first:last, None, None].astype(np.float32)
        excursion *= excursion
        cost[first:last] = excursion * np.float32(1.0 / EXCURSION_K**2)
        excursion *= np.float32(1.0 / EXCURSION_BAD_K**2)
        excursion *= excursion
        excursion *= excursion
        cost[first:last] += np.minimum(excursion, NEVER)
    return cost


def _estimate(changes: list[np.ndarray]) -> np.ndarray:
    up = down = most_up = most_down = np.float32(0)
    for change in changes:
        rise, fall = np.maximum(change, 0), np.maximum(-change, 0)
        up, down = up + rise, down + fall
        most_up, most_down = np.maximum(most_up, rise), np.maximum(most_down, fall)
    upward = most_up >= most_down
    largest = np.where(upward, most_up, most_down)
    against = np.where(upward, down, up)
    apart = np.where(upward, most_down, most_up)
    total = np.where(upward, up - down, down - up)
    ahead, behind = np.maximum(total, 0), np.maximum(-total, 0)
    best = np.maximum(largest - ahead, 0)  # nothing goes before the largest
    for early in (apart, against - apart, against):
        passed = np.maximum(early - behind, largest - early - ahead)
        best = np.minimum(best, np.maximum(passed, 0))
    return best


def cheapest(node: np.ndarray, edge: np.ndarray) -> np.ndarray:
    """Slot of each step on the cheapest path.

    Parameters
    ----------
    node : float array [n, k]
    edge : float array [n-1, k, k]
        From a slot of step i to a slot of step i+1.

    Returns
    -------
    int array [n]
    """
    n, k = node.shape
    if n < 2:
        return np.argmin(node, axis=1)
    joint = edge + node[1:, None, :]
    length = max(1, int(np.sqrt(n - 1)))
    blocks = -(-(n - 1) // length)
    padding = blocks * length - (n - 1)
    if padding:  # steps that cost nothing and stay where they are
        stay = np.full((padding, k, k), NEVER, joint.dtype)
        stay[:, np.arange(k), np.arange(k)] = 0
        joint = np.concatenate([joint, stay])
    joint = joint.reshape(blocks, length, k, k)
    came, through = _within(joint)
    ends = _join(node[0], through)
    return _trace(came, ends)[:n]


def _within(joint: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of every block: where each state came from [L, B, start, k], and the cost [B, start, k]."""
    blocks, length, k, _ = joint.shape
    came = np.empty((length, blocks, k, k), np.int8)
    cost = np.full((blocks, k, k), NEVER, joint.dtype)
    cost[:, np.arange(k), np.arange(k)] = 0
    for step in range(length):
        move = joint[:, step]
        best = cost[:, :, 0, None] + move[:, None, 0, :]
        origin = np.zeros((blocks, k, k), np.int8)
        for state in range(1, k):
            other = cost[:, :, state, None] + move[:, None, state, :]
            origin[other < best] = state
            np.minimum(best, other, out=best)
        came[step], cost = origin, best
    return came, cost


def _join(first: np.ndarray, through: np.ndarray) -> np.ndarray:
    """States at the blocks' edges, int [B + 1]."""
    blocks, k, _ = through.shape
    total = first.astype(float)
    origin = np.empty((blocks, k), int)
    for block in range(blocks):
        ways = total[:, None] + through[block]
        origin[block] = np.argmin(ways, axis=0)
        total = ways[origin[block], np.arange(k)]
    edges = np.empty(blocks + 1, int)
    edges[blocks] = int(np.argmin(total))
    for block in range(blocks - 1, -1, -1):
        edges[block] = origin[block, edges[block + 1]]
    return edges


def _trace(came: np.ndarray, edges: np.ndarray) -> np.ndarray:
    length, blocks = came.shape[:2]
    path = np.empty((blocks, length), int)
    state, start, every = edges[1:].copy(), edges[:-1], np.arange(blocks)
    for step in range(length - 1, -1, -1):
        path[:, step] = state
        state = came[step, every, start, state]
    return np.concatenate([edges[:1], path.reshape(-1)])
