"""Lessons become weights: the network of voids/judging.py, taught with PyTorch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from bubblegrade.teaching.lessons import Lesson
from bubblegrade.voids.judging import LOG_RATIO_ERR_RANGE, MOST_SPREADS, OTHER_KINDS, Judge

WIDTH: Final = (128, 64)  # neurons of the two hidden layers
EPOCHS: Final = 18
BATCH: Final = 512
RATE: Final = 4e-3
DROPPED: Final = 0.1  # share of neurons silenced at a time
SHAKEN: Final = 0.03  # noise added to the features, in spreads
RATIO_WEIGHT, KIND_WEIGHT = 0.25, 0.1  # of the two side questions beside 'is it a void?'


@dataclass(frozen=True, eq=False)
class Course:
    """All lessons under one another."""

    features: NDArray[np.float32]
    is_void: NDArray[np.int8]
    log_ratio: NDArray[np.float32]
    other: NDArray[np.int8]
    body: NDArray[np.str_]


def course(lessons: Sequence[Lesson]) -> Course:
    """Return the lessons under one another."""
    return Course(
        features=np.concatenate([lesson.features for lesson in lessons]),
        is_void=np.concatenate([lesson.is_void for lesson in lessons]),
        log_ratio=np.concatenate([lesson.log_ratio for lesson in lessons]),
        other=np.concatenate([lesson.other for lesson in lessons]),
        body=np.concatenate([np.full(len(lesson.is_void), lesson.body) for lesson in lessons]),
    )


def taught(lessons: Course, *, trainings: int, err_factor: float = 1.0) -> Judge:
    """Return the judge that the lessons teach, `trainings` networks from different seeds."""
    clean = np.nan_to_num(lessons.features, nan=0.0, posinf=5.0, neginf=-5.0)
    middle, spread = clean.mean(axis=0), clean.std(axis=0) + 1e-3
    x = np.clip((clean - middle) / spread, -MOST_SPREADS, MOST_SPREADS).astype(np.float32)
    layers = tuple(_layers(_train(x, lessons, seed)) for seed in range(trainings))
    return Judge(middle.astype(np.float32), spread.astype(np.float32), layers, err_factor)


def saved(judge: Judge, path: Path) -> None:
    """Write the judge as plain arrays; weights in half precision."""
    arrays: dict[str, Any] = {
        "middle": judge.middle,
        "spread": judge.spread,
        "trainings": np.int64(len(judge.layers)),
        "err_factor": np.float32(judge.err_factor),
    }
    for t, training in enumerate(judge.layers):
        for i, (weights, bias) in enumerate(training):
            arrays[f"weight_{t}_{i}"] = weights.astype(np.float16)
            arrays[f"bias_{t}_{i}"] = bias
    np.savez_compressed(path, **arrays)


def _train(x: NDArray[np.float32], lessons: Course, seed: int) -> nn.Sequential:
    """Return one trained network."""
    torch.manual_seed(seed)
    net = nn.Sequential(
        nn.Linear(x.shape[1], WIDTH[0]), nn.ReLU(), nn.Dropout(DROPPED),
        nn.Linear(WIDTH[0], WIDTH[1]), nn.ReLU(), nn.Dropout(DROPPED),
        nn.Linear(WIDTH[1], 3 + len(OTHER_KINDS)),
    )  # fmt: skip
    inputs = torch.from_numpy(x)
    told = [torch.from_numpy(np.asarray(a)) for a in (lessons.is_void, lessons.log_ratio, lessons.other)]
    steps = EPOCHS * (len(x) // BATCH)
    optimiser = torch.optim.AdamW(net.parameters(), RATE, weight_decay=1e-4)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, RATE, total_steps=steps + 1)
    for _ in range(EPOCHS):
        for rows in torch.randperm(len(x))[: len(x) // BATCH * BATCH].split(BATCH):
            said = net(inputs[rows] + SHAKEN * torch.randn(BATCH, x.shape[1]))
            loss = _loss(said, *(column[rows] for column in told))
            optimiser.zero_grad()
            loss.backward()
            optimiser.step()
            schedule.step()
    return net.eval()


def _loss(said: torch.Tensor, is_void: torch.Tensor, log_ratio: torch.Tensor, other: torch.Tensor) -> torch.Tensor:
    """Return how wrong the answers are: void or not, the size's ratio (Student's t, 4 degrees), the other kind."""
    known = is_void >= 0
    loss = functional.binary_cross_entropy_with_logits(said[known, 0], is_void[known].float())
    sized = torch.isfinite(log_ratio)
    if bool(sized.any()):
        log_err = said[sized, 2].clamp(*LOG_RATIO_ERR_RANGE)
        off = (log_ratio[sized] - said[sized, 1]) / torch.exp(log_err)
        loss = loss + RATIO_WEIGHT * (log_err + 2.5 * torch.log1p(off * off / 4)).mean()
    named = (is_void == 0) & (other >= 0)
    if bool(named.any()):
        loss = loss + KIND_WEIGHT * functional.cross_entropy(said[named, 3:], other[named].long())
    return loss


def _layers(net: nn.Sequential) -> tuple[tuple[NDArray[np.float32], NDArray[np.float32]], ...]:
    """Return the weights, (in, out), and bias of each layer."""
    linear = [part for part in net if isinstance(part, nn.Linear)]
    return tuple((part.weight.detach().numpy().T.copy(), part.bias.detach().numpy().copy()) for part in linear)
