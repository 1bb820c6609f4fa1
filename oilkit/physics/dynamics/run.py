"""One case from its beginning to its end, with what happens on the way."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from oilkit.physics.compiled import njit
from oilkit.physics.dynamics.case import *
from oilkit.physics.dynamics.rates import inputs_at, is_moving, net_push, rates_at
from oilkit.physics.dynamics.steps import (
    STAGE_A,
    STAGE_C,
    STAGE_GAMMA,
    STAGE_SLOPE,
    STAGE_TIME,
    STAGES,
    crossing,
    cubic,
    factorize,
    is_wild,
    jacobian,
    scale_rates,
    share_to,
    solve_stage,
    turning,
)

PROTECTED, LOWEST, LOWEST_AT, BOTTOMED, BELOW, FAILURES, STEPS, STATUS, LAST_VOLUME, STILL_BELOW = range(10)
RESULTS = 10
"""What a run is summed up in: end of the protected time (infinite if it did not end), lowest pressure and when, when
the piston first came home (infinite if never), time below the limit in all, how often it stayed there for longer than
the tolerance, steps, status (0 good), gas volume when protection ended (at the time PROTECTED), or at the end, and
for how long by then the pressure had been below the limit (0 if it was not)."""


@njit(cache=True, error_model="numpy")
def loosening(y: Any, u: Any, c: Any, mode: int, start_volume: float) -> Any:
    """By how much the pressure that pulls at a standing piston exceeds seal friction, Pa."""
    push = net_push(y, u, c, start_volume)
    return (-push if mode == HOME else push if mode == FULL else abs(push)) - c[SEAL]


@njit(cache=True, error_model="numpy")
def start_mode(volume: float, c: Any) -> int:
    """How the piston stands at the start: on a stop, held by its seal, or free to move."""
    if volume >= c[GAS_VOLUME]:
        return HOME
    if volume <= c[LEAST_VOLUME]:
        return FULL
    return HELD if c[SEAL] > 0.0 else FREE


@njit(cache=True, error_model="numpy")
def run_case(
    c: Any,
    times: Any,
    table: Any,
    y: Any,
    mode: int,
    tol: float,
    stop_when_lost: bool,
    samples: Any,
    out: Any,
    result: Any,
) -> int:
    """One case from ``times[0]`` to ``times[-1]``, state ``y`` changed in place.

    times: rising, shape (k,); table: inputs at those times, straight between, shape (5, k). samples: rising times at
    which ``out[i] = V, Q, P, T, S, sums`` is wanted, may be empty. result: shape (RESULTS,). Returns the last mode.
    """
    start_volume = y[V]
    u, w = np.empty(5), np.empty(5)
    f, g, ft = np.empty(ROWS), np.empty(ROWS), np.empty(ROWS)
    jac, m = np.empty((ROWS, N)), np.empty((N, N))
    order = np.empty(N, np.int64)
    kk = np.empty((STAGES, ROWS))
    z, new, f_new = np.empty(N), np.empty(ROWS), np.empty(ROWS)
    sums = np.zeros(SUMS)
    weight = np.array([tol * c[GAS_VOLUME], tol * 3e-4, tol * 1e5, tol * 300.0, tol])
    result[:] = 0.0
    result[PROTECTED] = result[BOTTOMED] = np.inf
    result[LOWEST], result[LOWEST_AT] = y[P], times[0]
    below_since = times[0] if y[P] < c[LIMIT] else np.nan
    volume_since = y[V]
    if mode == HOME:
        result[BOTTOMED] = times[0]
    failed = False
    sample = 0
    while sample < samples.size and samples[sample] <= times[0]:
        for i in range(N):
            out[sample, i] = y[i]
        for i in range(SUMS):
            out[sample, N + i] = 0.0
        sample += 1
    h = 1e-5
    t = times[0]
    steps = 0
    for k in range(times.size - 1):
        end = times[k + 1]
        if end <= t:
            continue
        steady = True
        for i in range(5):
            steady = steady and table[i, k] == table[i, k + 1]
        inputs_at(u, t, times, table, k)
        rates_at(y, u, c, mode, start_volume, f)
        scale_rates(f, c)
        while t < end:
            if end - t < 1e-12 * max(abs(end), 1.0):
                t = end
                break
            # does a standing piston come loose?
            loose = -1.0
            if not is_moving(mode) and u[OPENING] >= SHUT:
                loose = loosening(y, u, c, mode, start_volume)
                if loose > LOOSE:
                    outward = mode == FULL or (mode == HELD and net_push(y, u, c, start_volume) > 0.0)
                    mode = FREE if outward or c[SEAL] == 0.0 else BACK
                    y[Q] = 0.0
                    h = min(h, 1e-4)
                    rates_at(y, u, c, mode, start_volume, f)
                    scale_rates(f, c)
            h = min(h, end - t)
            jacobian(y, u, c, mode, start_volume, f, jac)
            if steady:
                ft[:] = 0.0
            else:
                probe = 1e-3 * (end - times[k])
                if t + probe > end:
                    probe = -probe
                inputs_at(w, t + probe, times, table, k)
                rates_at(y, w, c, mode, start_volume, ft)
                scale_rates(ft, c)
                for i in range(ROWS):
                    ft[i] = (ft[i] - f[i]) / probe
                ft[P] = (ft[N] - ft[N + 1] - ft[N + 2]) / c[COMPLIANCE]
            hit, stop = FREE, 0.0
            while True:
                steps += 1
                if steps > 4_000_000 or h < 1e-13:
                    result[STATUS], result[STEPS] = 1.0, steps
                    return mode
                per_h = 1.0 / h
                big = per_h / STAGE_GAMMA
                for i in range(N):
                    for j in range(N):
                        m[i, j] = -(jac[i, j] / c[COMPLIANCE] if i == P else jac[i, j])
                    m[i, i] += big
                factorize(m, order)
                bad = False
                for stage in range(STAGES):
                    for i in range(ROWS):
                        g[i] = f[i]
                    if stage > 0:
                        for i in range(N):
                            z[i] = y[i]
                            for j in range(stage):
                                z[i] += STAGE_A[stage, j] * kk[j, i]
                        bad = is_wild(z, c)
                        if bad:
                            break
                        if not steady:
                            inputs_at(w, t + STAGE_TIME[stage] * h, times, table, k)
                        rates_at(z, w if not steady else u, c, mode, start_volume, g)
                        scale_rates(g, c)
                    slope = STAGE_SLOPE[stage] * h
                    for i in range(ROWS):
                        kk[stage, i] = g[i] + slope * ft[i]
                    for j in range(stage):
                        share = STAGE_C[stage, j] * per_h
                        for i in range(ROWS):
                            kk[stage, i] += share * kk[j, i]
                    solve_stage(m, order, jac, h * STAGE_GAMMA, kk, stage)
                error = 0.0
                if not bad:
                    for i in range(N):
                        new[i] = z[i] + kk[STAGES - 1, i]
                        part = kk[STAGES - 1, i] / (weight[i] + tol * max(abs(y[i]), abs(new[i])))
                        error += part * part
                    error = math.sqrt(error / N)
                    bad = is_wild(new, c)
                if bad:
                    h *= 0.25
                    continue
                if error > 1.0:
                    h *= max(0.2, 0.9 / math.sqrt(math.sqrt(error)))
                    continue
                # a stop within the step: end the step on it
                hit = FREE
                if is_moving(mode) and new[Q] > 0.0 and new[V] > c[GAS_VOLUME] * (1.0 - ON_STOP):
                    hit, stop = HOME, c[GAS_VOLUME]
                elif is_moving(mode) and new[Q] < 0.0 and new[V] < c[LEAST_VOLUME] * (1.0 + ON_STOP):
                    hit, stop = FULL, c[LEAST_VOLUME]
                if hit != FREE and abs(new[V] - stop) > ON_STOP * stop and h > 1e-10:
                    h *= share_to(y[V], new[V], f[V], new[Q], h, stop)
                    continue
                # or a piston that seal friction brought to rest: the same
                turned = (mode == FREE and new[Q] < 0.0) or (mode == BACK and new[Q] > 0.0)
                if hit == FREE and turned and c[SEAL] > 0.0:
                    hit = HELD
                    if abs(new[Q]) > AT_REST and h > 1e-10:
                        h *= min(max(y[Q] / (y[Q] - new[Q]), 0.02), 0.98)
                        continue
                # or one that was to come loose within the step: end the step there
                if not is_moving(mode) and h > 1e-10:
                    inputs_at(w, t + h, times, table, k)
                    then = loosening(new, w, c, mode, start_volume) if w[OPENING] >= SHUT else -1.0
                    if then > 1.0 and loose <= LOOSE:
                        h *= min(max((0.5 - loose) / (then - loose), 0.01), 0.95)
                        continue
                break
            for i in range(SUMS):
                new[N + i] = kk[STAGES - 1, N + i]
                for j in range(STAGES - 1):
                    new[N + i] += STAGE_A[STAGES - 1, j] * kk[j, N + i]
            t_new = t + h
            if end - t_new < 1e-12 * max(abs(end), 1.0):
                t_new = end
            inputs_at(u, t_new, times, table, k)
            rates_at(new, u, c, mode, start_volume, f_new)
            scale_rates(f_new, c)
            # what happened on the way
            while sample < samples.size and samples[sample] <= t_new:
                share = (samples[sample] - t) / h
                for i in range(N):
                    out[sample, i] = cubic(y[i], new[i], f[i], f_new[i], h, share)
                for i in range(SUMS):
                    out[sample, N + i] = cubic(sums[i], sums[i] + new[N + i], f[N + i], f_new[N + i], h, share)
                sample += 1
            low, low_at, split = new[P], t_new, 1.0
            if f[P] < 0.0 and f_new[P] > 0.0:
                split = turning(y[P], new[P], f[P], f_new[P], h)
                low, low_at = cubic(y[P], new[P], f[P], f_new[P], h, split), t + split * h
            elif f[P] > 0.0 and f_new[P] < 0.0:
                split = turning(-y[P], -new[P], -f[P], -f_new[P], h)
            if low < result[LOWEST]:
                result[LOWEST], result[LOWEST_AT] = low, low_at
            share, before = 0.0, y[P]
            for piece in range(2):  # down and up again within one step is seen too
                upto = split if piece == 0 else 1.0
                if upto <= share:
                    continue
                after = cubic(y[P], new[P], f[P], f_new[P], h, upto) if upto < 1.0 else new[P]
                if before >= c[LIMIT] and after < c[LIMIT]:
                    at = crossing(y[P], new[P], f[P], f_new[P], h, c[LIMIT], share, upto)
                    below_since = t + h * at
                    volume_since = cubic(y[V], new[V], f[V], f_new[V], h, at)
                elif before < c[LIMIT] and after >= c[LIMIT]:
                    above = t + h * crossing(y[P], new[P], f[P], f_new[P], h, c[LIMIT], share, upto)
                    result[BELOW] += above - below_since
                    if above - below_since > c[TOLERANCE] and not failed:
                        result[FAILURES] += 1.0
                        if math.isinf(result[PROTECTED]):
                            result[PROTECTED], result[LAST_VOLUME] = below_since, volume_since
                    below_since = np.nan
                    failed = False
                share, before = upto, after
            for i in range(N):
                y[i] = new[i]
            for i in range(SUMS):
                sums[i] += new[N + i]
            for i in range(ROWS):
                f[i] = f_new[i]
            t = t_new
            if hit != FREE:
                mode = hit
                if hit != HELD:
                    y[V] = c[GAS_VOLUME] if hit == HOME else c[LEAST_VOLUME]
                y[Q] = 0.0
                if hit == HOME and math.isinf(result[BOTTOMED]):
                    result[BOTTOMED] = t
                rates_at(y, u, c, mode, start_volume, f)
                scale_rates(f, c)
                h = 1e-5
            else:
                h *= min(4.0, max(0.3, 0.9 / math.sqrt(math.sqrt(max(error, 1e-6)))))
            if not failed and t - below_since > c[TOLERANCE]:
                failed = True
                result[FAILURES] += 1.0
                if math.isinf(result[PROTECTED]):
                    result[PROTECTED], result[LAST_VOLUME] = below_since, volume_since
            if stop_when_lost and not math.isinf(result[PROTECTED]):
                if not math.isnan(below_since):
                    result[BELOW] += t - below_since
                result[STEPS] = steps
                return mode
    if not math.isnan(below_since):
        result[STILL_BELOW] = t - below_since
        result[BELOW] += t - below_since
    if math.isinf(result[PROTECTED]):
        result[LAST_VOLUME] = y[V]
    while sample < samples.size:
        for i in range(N):
            out[sample, i] = y[i]
        for i in range(SUMS):
            out[sample, N + i] = sums[i]
        sample += 1
    result[STEPS] = steps
    return mode


@njit(cache=True, error_model="numpy", nogil=True)
def run_cases(cases: Any, times: Any, tables: Any, starts: Any, tol: float, results: Any) -> None:
    nothing, nowhere = np.empty(0), np.empty((0, ROWS))
    for i in range(cases.shape[0]):
        y = starts[i].copy()
        mode = start_mode(y[V], cases[i])
        run_case(cases[i], times[i], tables[i], y, mode, tol, True, nothing, nowhere, results[i])
