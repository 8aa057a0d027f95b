"""Lessons become weights: the networks of voids/judging.py and voids/naming.py, taught with PyTorch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from bubblegrade.teaching.lessons import Lesson
from bubblegrade.voids.judging import LOG_RATIO_ERR_RANGE, OTHER_KINDS, Judge
from bubblegrade.voids.mark_looks import VIEW
from bubblegrade.voids.naming import MARK_KINDS, Namer
from bubblegrade.voids.network import Network, scaled

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
    told = [torch.from_numpy(np.asarray(a)) for a in (lessons.is_void, lessons.log_ratio, lessons.other)]

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return _loss(said, *(column[rows] for column in told))

    school = School(outputs=3 + len(OTHER_KINDS), loss=loss, hidden=WIDTH, epochs=EPOCHS, batch=BATCH, rate=RATE)
    return Judge(_network(lessons.features, school, trainings), err_factor)


def taught_namer(features: NDArray[np.float32], kind: NDArray[np.int8], *, trainings: int) -> Namer:
    """Return the namer that (N, F) features and (N,) places in MARK_KINDS teach.

    Rare kinds weigh more, by the root of their rarity, and the usual shares are those of the weighted lessons.
    """
    count = np.bincount(kind, minlength=len(MARK_KINDS)) + 1.0
    weight = torch.from_numpy((1 / np.sqrt(count)).astype(np.float32))
    told = torch.from_numpy(kind.astype(np.int64))

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return functional.cross_entropy(said, told[rows], weight=weight)

    school = School(
        outputs=len(MARK_KINDS), loss=loss, hidden=(96, 64), epochs=30, batch=256, rate=3e-3, changed=_mirrored
    )
    shares = count * weight.numpy()
    return Namer(_network(features, school, trainings), (shares / shares.sum()).astype(np.float32))


def saved(judge: Judge, path: Path) -> None:
    """Write the judge as plain arrays; weights in half precision."""
    _write(judge.network, path, err_factor=np.float32(judge.err_factor))


def saved_namer(namer: Namer, path: Path) -> None:
    """Write the namer as plain arrays; weights in half precision."""
    _write(namer.network, path, usual=namer.usual)


@dataclass(frozen=True, eq=False)
class School:
    """How a network is taught."""

    outputs: int
    loss: Callable[[torch.Tensor, torch.Tensor], torch.Tensor]  # of what was said, (B, outputs), of the rows, (B,)
    hidden: tuple[int, int]
    epochs: int
    batch: int
    rate: float
    changed: Callable[[torch.Tensor], torch.Tensor] = lambda rows: (
        rows
    )  # what may be changed without changing the truth


def _network(features: NDArray[np.float32], school: School, trainings: int) -> Network:
    """Return `trainings` networks from different seeds as one."""
    clean = np.nan_to_num(features, nan=0.0, posinf=5.0, neginf=-5.0)
    middle, spread = clean.mean(axis=0).astype(np.float32), (clean.std(axis=0) + 1e-3).astype(np.float32)
    x = scaled(features, middle, spread)
    return Network(middle, spread, tuple(_layers(_train(x, school, seed)) for seed in range(trainings)))


def _mirrored(rows: torch.Tensor) -> torch.Tensor:
    """Return features with their views mirrored along and across at random: a mark has no head and no tail."""
    views = rows[:, -VIEW * VIEW :].view(-1, VIEW, VIEW)
    turned = torch.rand(len(rows), 2) < 0.5  # noqa: PLR2004
    views = torch.where(turned[:, 0, None, None], views.flip(1), views)
    views = torch.where(turned[:, 1, None, None], views.flip(2), views)
    return torch.cat([rows[:, : -VIEW * VIEW], views.reshape(len(rows), -1)], dim=1)


def _write(network: Network, path: Path, **more: Any) -> None:
    arrays: dict[str, Any] = {
        "middle": network.middle,
        "spread": network.spread,
        "trainings": np.int64(len(network.trainings)),
        **more,
    }
    for t, training in enumerate(network.trainings):
        for i, (weights, bias) in enumerate(training):
            arrays[f"weight_{t}_{i}"] = weights.astype(np.float16)
            arrays[f"bias_{t}_{i}"] = bias
    np.savez_compressed(path, **arrays)


def _train(x: NDArray[np.float32], school: School, seed: int) -> nn.Sequential:
    """Return one trained network."""
    torch.set_num_threads(1)  # batches are small: threads would only wait for each other
    torch.manual_seed(seed)
    first, second = school.hidden
    net = nn.Sequential(
        nn.Linear(x.shape[1], first), nn.ReLU(), nn.Dropout(DROPPED),
        nn.Linear(first, second), nn.ReLU(), nn.Dropout(DROPPED),
        nn.Linear(second, school.outputs),
    )  # fmt: skip
    inputs = torch.from_numpy(x)
    batches = max(len(x) // school.batch, 1)
    optimiser = torch.optim.AdamW(net.parameters(), school.rate, weight_decay=1e-4)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, school.rate, total_steps=school.epochs * batches + 1)
    for _ in range(school.epochs):
        for rows in torch.randperm(len(x))[: batches * school.batch].split(school.batch):
            seen = school.changed(inputs[rows])
            loss = school.loss(net(seen + SHAKEN * torch.randn_like(seen)), rows)
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
