"""A walk from layout to layout of a strip, none with an overlap, that leads to shorter ones.

Where drawing the line in (`drawing_in`) gets no further, nearly every attempt ends with a little
overlap, and a linear program (`press`) turns most of what is left into a layout without
any: a little longer than before, or shorter. The walk goes on from there, as in annealing: always
where that is shorter, seldom where it is much longer. Dozens of such steps fit into the time of
one attempt to reach a shorter line.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from studio.core.placing.separating.conflicts import total_loss
from studio.core.placing.separating.kernels import Floats, Ints

from .drawing_in import FRESH, NEW, POOL_LINE, POOLED, Hunt, hunt_of
from .kernels import BEST, EVALUATIONS, LEFT, LINE, PHASE, SUCCESSES, Strip
from .leaps import KINDS, step
from .moves import furthest, lay_all
from .pairs import SIZE, Forms, Tables
from .parts import Parts
from .press import Press

# overlaps worth pressing: their loss, by the pieces' mean width to the 1.5. Of 1,900 steps on four
# academic strips with more than 0.3 left one became shorter, 12 at most 0.3 per cent longer
SMALL = 0.25
SAME = 0.01  # pieces that have moved by less, by their mean width, lie where they lay
# how much longer a layout may well be to be gone on from, as a share of the length: less and less
# for so many steps, then warmer again, and after the warmest on from the best
WARM = (0.004, 0.007, 0.01)
COOLING = 400
WORTH = 1e-5  # a shorter best is shorter by this share of the length
PRESSING = 30_000  # evaluations made in the time that pressing takes, about


class Layout(NamedTuple):
    """Pieces of which none overlaps another, and the line before which they lie."""

    pose: Floats
    form: Ints
    line: float


class Walk:
    """Looks for what is shorter than one lane's best."""

    def __init__(self, forms: Forms, parts: Parts, trial: Strip) -> None:
        self.forms = forms
        self.press = Press(forms, parts, len(trial.form))
        self.trial = trial  # where layouts are laid and steps made
        self.hunt = hunt_of(len(trial.form))
        wide = float(forms.extent[trial.form, SIZE].mean())
        self.small, self.same = SMALL * wide**1.5, SAME * wide
        self.at: Layout | None = None  # how far it has come
        self.last = np.inf  # the line of the lane's best when that was pressed
        self.successes = -1  # of the lane, with which it has no layout yet
        self.steps = 0  # from the best

    def may_go(self, strip: Strip, hunt: Hunt, failures: int) -> bool:
        """Whether it is under way, or so many attempts to draw the line in further have failed.

        A strip too large to be pressed is better drawn in all the time.
        """
        if not self.press.fits:
            return False
        failed = hunt.mark[POOLED] >= failures and hunt.gauge[POOL_LINE] < strip.bounds[BEST]
        laid = strip.tally[SUCCESSES] > self.successes
        return self.at is not None or bool(failed and laid)

    def press_left(self, tables: Tables, strip: Strip, hunt: Hunt, stop: Ints) -> None:
        """Press the lane's best where it is new, or else what an attempt has left of late."""
        fresh, hunt.mark[FRESH] = hunt.mark[FRESH], 0
        if self.press_best(tables, strip, stop):
            return
        if fresh and hunt.pool_loss[fresh - 1] < self.small:
            pose, form = hunt.pool_pose[fresh - 1], hunt.pool_form[fresh - 1]
            found = self._pressed(tables, stop, pose, form)
            if found is not None:
                self._take_over(strip, found)

    def press_best(self, tables: Tables, strip: Strip, stop: Ints) -> bool:
        """Press the lane's best together where it is new; whether it was."""
        if strip.bounds[BEST] == self.last:
            return False
        found = self._pressed(tables, stop, strip.best_pose, strip.best_form)
        if found is not None:
            self._take_over(strip, found)
        self.last = float(strip.bounds[BEST])
        return True

    def go(self, tables: Tables, strip: Strip, stop: Ints, seed: int, budget: int) -> None:
        """Walk for as long as a number of evaluations takes (pressing counts as some)."""
        tally, dice = self.trial.tally, np.random.default_rng(seed)
        end = tally[EVALUATIONS] + budget
        while tally[EVALUATIONS] < end and stop[0] == 0:
            tally[EVALUATIONS] += 1  # so that a strip with nothing to move ends too
            self.press_best(tables, strip, stop)
            if self.at is None or self.steps == len(WARM) * COOLING:
                self.at = Layout(
                    strip.best_pose.copy(), strip.best_form.copy(), float(strip.bounds[BEST])
                )
                self.steps = 0
            longer = self._warmth() * dice.exponential() * (self.at.line - strip.bounds[LEFT])
            found = self._step(tables, self.at, stop, dice)
            self.steps += 1
            if found is None:
                continue
            if found.line < self.at.line + longer:
                self.at = found
            self._take_over(strip, found)

    def _warmth(self) -> float:
        """How much longer a layout may well be now, as a share of the length."""
        turn, steps = divmod(self.steps, COOLING)
        return WARM[turn] * (1.0 - steps / COOLING)

    def follow(self, line: float) -> None:
        """The lane's best is another, at this line, pressed already."""
        self.at, self.last, self.successes = None, line, -1

    def begin_anew(self, strip: Strip) -> None:
        """The lane's pieces have been strewn: there is nothing to walk from yet."""
        self.follow(float(strip.bounds[BEST]))
        self.successes = int(strip.tally[SUCCESSES])

    def _take_over(self, strip: Strip, found: Layout) -> None:
        """Make a layout the lane's best where it is shorter; the attempt in hand is given up."""
        if found.line >= strip.bounds[BEST] - WORTH * (strip.bounds[BEST] - strip.bounds[LEFT]):
            return
        strip.best_pose[:], strip.best_form[:] = found.pose, found.form
        strip.bounds[BEST] = self.last = found.line
        strip.tally[PHASE] = NEW
        strip.tally[SUCCESSES] += 1

    def _step(
        self, tables: Tables, at: Layout, stop: Ints, dice: np.random.Generator
    ) -> Layout | None:
        """One step, pressed; None where something overlaps still."""
        trial, hunt = self.trial, self.hunt
        trial.best_pose[:], trial.best_form[:] = at.pose, at.form
        trial.bounds[BEST] = at.line
        seed, kind = int(dice.integers(2**32)), int(dice.integers(KINDS))
        loss = step(self.forms, tables, trial, hunt, stop, seed, kind, self.small)
        if stop[0] != 0 or loss >= self.small or self._same(at):
            return None
        found = self._pressed(tables, stop, hunt.pose, hunt.form)
        if found is None and loss <= 0.0:  # without an overlap as it is
            trial.pose[:], trial.form[:] = hunt.pose, hunt.form
            line = float(furthest(self.forms, trial))
            found = Layout(trial.pose.copy(), trial.form.copy(), line)
        return found

    def _same(self, at: Layout) -> bool:
        """Whether a step has led back to where it began."""
        moved = float(np.abs(self.hunt.pose - at.pose).max())
        return moved < self.same and bool((self.hunt.form == at.form).all())

    def _pressed(self, tables: Tables, stop: Ints, pose: Floats, form: Ints) -> Layout | None:
        """A layout pressed together; None where something overlaps even then, or told to stop."""
        trial = self.trial
        trial.tally[EVALUATIONS] += PRESSING
        pressed = self.press.pressed(trial, stop, pose, form)
        if pressed is None:
            return None
        trial.pose[:], trial.form[:] = pressed, form
        line = trial.bounds[LINE] = furthest(self.forms, trial)
        lay_all(self.forms, tables, trial)
        return None if total_loss(trial) > 0.0 else Layout(pressed, trial.form.copy(), float(line))
