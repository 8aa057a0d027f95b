"""Lessons become weights: the networks of voids/judging.py and voids/naming.py, taught with PyTorch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from bubblegrade.teaching.company_lessons import CompanyCourse
from bubblegrade.teaching.lessons import Lesson
from bubblegrade.voids.company import Company, log_odds
from bubblegrade.voids.features import Looks
from bubblegrade.voids.judging import LOG_RATIO_ERR_RANGE, OTHER_KINDS, Judge
from bubblegrade.voids.mark_looks import VIEW
from bubblegrade.voids.naming import MARK_KINDS, Namer
from bubblegrade.voids.network import RAY_STEPS, Layers, Network, RayNetwork, scaled, usual
from bubblegrade.voids.sieving import Sieve

WIDTH: Final = (128, 64)  # neurons of the judge's two hidden layers, behind
ALONG_RAYS: Final = (24, 40)  # those of the layers along the rays
EPOCHS: Final = 60
BATCH: Final = 2048
RATE: Final = 7e-3
DROPPED: Final = 0.2  # share of neurons silenced at a time
SHAKEN: Final = 0.03  # noise added to the numbers, in spreads
RATIO_WEIGHT, KIND_WEIGHT = 0.25, 0.1  # of the two side questions beside 'is it a void?'


@dataclass(frozen=True, eq=False)
class Course:
    """All lessons under one another."""

    numbers: NDArray[np.float32]
    rays: NDArray[np.float16]
    is_void: NDArray[np.int8]
    log_ratio: NDArray[np.float32]
    other: NDArray[np.int8]
    body: NDArray[np.str_]

    @property
    def looks(self) -> Looks:
        """What the judge is shown."""
        return Looks(self.numbers, self.rays.astype(np.float32))


def course(lessons: Sequence[Lesson]) -> Course:
    """Return the lessons under one another."""
    columns = {
        name: np.concatenate([getattr(lesson, name) for lesson in lessons])
        for name in ("numbers", "rays", "is_void", "log_ratio", "other")
    }
    return Course(**columns, body=np.concatenate([np.full(len(lesson.is_void), lesson.body) for lesson in lessons]))


def taught(lessons: Course, *, trainings: int) -> Judge:
    """Return the judge that the lessons teach, `trainings` networks from different seeds, with no factor."""
    told = [_placed(a) for a in (lessons.is_void, lessons.log_ratio, lessons.other)]

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return _loss(said, *(column[rows] for column in told))

    middle, spread = usual(lessons.numbers)
    radii = lessons.rays.shape[2]
    school = School(
        net=lambda: _RayNet(lessons.numbers.shape[1], radii), loss=loss, epochs=EPOCHS, batch=BATCH, rate=RATE,
        changed=_turned,
    )  # fmt: skip
    inputs = (scaled(lessons.numbers, middle, spread), lessons.rays)
    network = RayNetwork(middle, spread, _trained(inputs, school, trainings))
    return Judge(network, ratio_factor=1.0, err_factor=1.0)


def taught_company(lessons: CompanyCourse, *, trainings: int) -> Company:
    """Return the company's network that the lessons in company teach."""
    known = lessons.is_void >= 0
    looks, before = lessons.looks[known], _placed(log_odds(lessons.likely[known]))
    told = _placed(lessons.is_void[known].astype(np.float32))

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return functional.binary_cross_entropy_with_logits(before[rows] + said[:, 0], told[rows])

    def net() -> nn.Module:
        layers = _dense(looks.shape[1], (64, 32), 1, dropped=0.1)
        nn.init.zeros_(layers[-1].weight)  # begins by leaving the verdicts as they are
        nn.init.zeros_(layers[-1].bias)
        return layers

    middle, spread = usual(looks)
    school = School(net=net, loss=loss, epochs=12, batch=1024, rate=4e-3)
    return Company(Network(middle, spread, _trained((scaled(looks, middle, spread),), school, trainings)))


def taught_sieve(looks: NDArray[np.float32], is_void: NDArray[np.int8], *, trainings: int) -> Sieve:
    """Return the sieve that (N, F) looks of begun candidates and what they are, 1 or 0, teach."""
    told = _placed(is_void.astype(np.float32))

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return functional.binary_cross_entropy_with_logits(said[:, 0], told[rows])

    middle, spread = usual(looks)
    net = partial(_dense, looks.shape[1], (32, 32), 1, dropped=0.0)
    school = School(net=net, loss=loss, epochs=12, batch=1024, rate=6e-3)
    return Sieve(Network(middle, spread, _trained((scaled(looks, middle, spread),), school, trainings)))


def taught_namer(features: NDArray[np.float32], kind: NDArray[np.int8], *, trainings: int) -> Namer:
    """Return the namer that (N, F) features and (N,) places in MARK_KINDS teach.

    Rare kinds weigh more, by the root of their rarity, and the usual shares are those of the weighted lessons.
    """
    count = np.bincount(kind, minlength=len(MARK_KINDS)) + 1.0
    weight = _placed((1 / np.sqrt(count)).astype(np.float32))
    told = _placed(kind.astype(np.int64))

    def loss(said: torch.Tensor, rows: torch.Tensor) -> torch.Tensor:
        return functional.cross_entropy(said, told[rows], weight=weight)

    middle, spread = usual(features)
    net = partial(_dense, features.shape[1], (96, 64), len(MARK_KINDS), dropped=0.1)
    school = School(net=net, loss=loss, epochs=30, batch=256, rate=3e-3, changed=_mirrored)
    network = Network(middle, spread, _trained((scaled(features, middle, spread),), school, trainings))
    shares = count * weight.cpu().numpy()
    return Namer(network, (shares / shares.sum()).astype(np.float32))


def saved(judge: Judge, path: Path) -> None:
    """Write the judge as plain arrays; weights in half precision."""
    factors = {"ratio_factor": np.float32(judge.ratio_factor), "err_factor": np.float32(judge.err_factor)}
    _write(judge.network, path, **factors)


def saved_company(company: Company, path: Path) -> None:
    """Write the company's network as plain arrays; weights in half precision."""
    _write(company.network, path)


def saved_sieve(sieve: Sieve, path: Path) -> None:
    """Write the sieve as plain arrays; weights in half precision."""
    _write(sieve.network, path)


def saved_namer(namer: Namer, path: Path) -> None:
    """Write the namer as plain arrays; weights in half precision."""
    _write(namer.network, path, usual=namer.usual)


@dataclass(frozen=True, eq=False)
class School:
    """How a network is taught."""

    net: Callable[[], nn.Module]
    loss: Callable[[torch.Tensor, torch.Tensor], torch.Tensor]  # of what was said, (B, outputs), of the rows, (B,)
    epochs: int
    batch: int
    rate: float
    changed: Callable[..., tuple[torch.Tensor, ...]] = lambda *inputs: inputs  # what does not change the truth


class _RayNet(nn.Module):  # type: ignore[misc]
    """What RayNetwork is, to be taught."""

    def __init__(self, numbers: int, radii: int) -> None:
        super().__init__()
        first, second = ALONG_RAYS
        self.near, self.far = nn.Linear(3 * radii, first), nn.Linear(3 * first, second)
        self.behind = _dense(numbers + 2 * second, WIDTH, 3 + len(OTHER_KINDS), dropped=DROPPED)

    def forward(self, numbers: torch.Tensor, rays: torch.Tensor) -> torch.Tensor:
        """Return what the network says of (B, F) numbers and (B, angles, radii) rays."""
        seen = rays
        for layer, step in zip((self.near, self.far), RAY_STEPS, strict=True):
            beside = [seen.roll(step, 1), seen, seen.roll(-step, 1)]
            seen = torch.relu(layer(torch.cat(beside, dim=2)))
        said: torch.Tensor = self.behind(torch.cat([numbers, seen.mean(dim=1), seen.amax(dim=1)], dim=1))
        return said


def _dense(inputs: int, hidden: tuple[int, int], outputs: int, *, dropped: float) -> nn.Sequential:
    """Return fully connected layers."""
    first, second = hidden
    return nn.Sequential(
        nn.Linear(inputs, first), nn.ReLU(), nn.Dropout(dropped),
        nn.Linear(first, second), nn.ReLU(), nn.Dropout(dropped),
        nn.Linear(second, outputs),
    )  # fmt: skip


def _mirrored(rows: torch.Tensor) -> tuple[torch.Tensor]:
    """Return features with their views mirrored along and across at random: a mark has no head and no tail."""
    views = rows[:, -VIEW * VIEW :].view(-1, VIEW, VIEW)
    turned = torch.rand(len(rows), 2, device=rows.device) < 0.5  # noqa: PLR2004
    views = torch.where(turned[:, 0, None, None], views.flip(1), views)
    views = torch.where(turned[:, 1, None, None], views.flip(2), views)
    return (torch.cat([rows[:, : -VIEW * VIEW], views.reshape(len(rows), -1)], dim=1),)


def _turned(numbers: torch.Tensor, rays: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Return numbers, and rays mirrored at random: no void has a left and a right."""
    mirrored = torch.rand(len(rays), 1, 1, device=rays.device) < 0.5  # noqa: PLR2004
    return numbers, torch.where(mirrored, rays.flip(1), rays)


def _write(network: Network | RayNetwork, path: Path, **more: Any) -> None:
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


def _placed(column: NDArray[Any]) -> torch.Tensor:
    """Return a column where it is worked on."""
    return torch.from_numpy(np.asarray(column)).to(_device())


def _device() -> str:
    return "cuda" if torch.cuda.is_available() else "cpu"


def _trained(inputs: tuple[NDArray[Any], ...], school: School, trainings: int) -> tuple[Layers, ...]:
    """Return the layers of `trainings` networks from different seeds."""
    placed = tuple(_placed(column) for column in inputs)
    return tuple(_layers(_train(placed, school, seed)) for seed in range(trainings))


def _train(inputs: tuple[torch.Tensor, ...], school: School, seed: int) -> nn.Module:
    """Return one trained network."""
    torch.set_num_threads(1)  # batches are small: threads would only wait for each other
    torch.manual_seed(seed)
    net = school.net().to(inputs[0].device)
    batches = max(len(inputs[0]) // school.batch, 1)
    optimiser = torch.optim.AdamW(net.parameters(), school.rate, weight_decay=1e-4)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, school.rate, total_steps=school.epochs * batches + 1)
    for _ in range(school.epochs):
        order = torch.randperm(len(inputs[0]), device=inputs[0].device)
        for rows in order[: batches * school.batch].split(school.batch):
            numbers, *rest = school.changed(*(column[rows].float() for column in inputs))
            loss = school.loss(net(numbers + SHAKEN * torch.randn_like(numbers), *rest), rows)
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


def _layers(net: nn.Module) -> Layers:
    """Return the weights, (in, out), and bias of each layer."""
    linear = [part.cpu() for part in net.modules() if isinstance(part, nn.Linear)]
    return tuple((part.weight.detach().numpy().T.copy(), part.bias.detach().numpy().copy()) for part in linear)
