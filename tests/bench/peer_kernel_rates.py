"""Peer of the benchmark, second part: the rates of return of the bare kernel."""

# ruff: noqa: N803, N806 - the formulas' own letters

from math import comb

import numpy as np

SMOOTHING = 16


class Rates:
    """Newton's method, Descartes' rule and, where that fails, all roots: in the rows that the kernel holds."""

    def smoothing(self):
        length = self.T
        self.binomial = np.zeros((length + SMOOTHING, length))
        for power in range(SMOOTHING + 1):
            self.binomial[np.arange(length) + power, np.arange(length)] = comb(SMOOTHING, power)

    def irr(self, C, out):
        """Newton on log(PV in / PV out) in log v; Descartes on the quotient; every root by numpy where that fails."""
        S, n = self.S, self.n
        np.maximum(C, 0.0, out=S[:, 0])
        np.subtract(S[:, 0], C, out=S[:, 1])
        mean = np.ascontiguousarray(S[:, :, :: max(1, n // 64)].mean(2)[:, :, None])
        z0 = -np.log(1.08)
        for _ in range(4):
            z0 = float(self.start(mean, z0)[0][0])
        z, mixed = self.start(S, z0 if abs(z0) < 2 else -np.log(1.08))
        bad = ~(self.newton(S, z, 3, self.v, self.d) <= 1e-7)
        late = np.flatnonzero(mixed & bad)
        if late.size:
            zz, room = z[late], (np.empty((2, late.size)), np.empty((2, late.size)))
            bad[late] = ~(self.newton(np.ascontiguousarray(S[:, :, late]), zz, 12, *room) <= 1e-7)
            z[late] = zz
        root = np.exp(z, out=self.u)
        keeps = np.zeros(n, bool)
        beyond = z > 0
        if not beyond.all():
            keeps |= self.quotient(C[::-1], root) & ~beyond
        if beyond.any():
            keeps |= self.quotient(C, 1.0 / root) & beyond
        np.negative(z, out=out)
        np.expm1(out, out=out)
        out[~mixed] = np.nan
        doubtful = np.flatnonzero(mixed & (bad | ~keeps))
        if doubtful.size:
            self.rescue(C[:, doubtful], z[doubtful], bad[doubtful], doubtful, out)

    def start(self, S, z0):
        w = np.exp(z0 * self.years) * self.years ** np.arange(3.0)[:, None]
        flat = S.reshape(self.T + 1, -1)
        m = np.empty((3, flat.shape[1]))
        for a in range(0, flat.shape[1], 4096):
            np.matmul(w, flat[:, a : a + 4096], out=m[:, a : a + 4096])
        m = m.reshape(3, 2, -1)
        mixed = (m[0, 0] > 0) & (m[0, 1] > 0)
        m[1:] /= m[0]
        m[2] -= m[1] * m[1]
        slope, bend = m[1, 0] - m[1, 1], m[2, 0] - m[2, 1]
        h = np.log(m[0, 0] / m[0, 1])
        h /= slope
        bend *= h
        bend /= slope
        bend *= -0.5
        bend += 1.0
        h /= bend
        np.clip(h, -2.0, 2.0, out=h)
        return z0 - h, mixed

    def newton(self, S, z, rounds, f, d):
        T = self.T
        h, v = np.empty(z.size), np.empty(z.size)
        for _ in range(rounds):
            np.exp(z, out=v)
            np.copyto(d, S[T])
            np.multiply(d, v, out=f)
            f += S[T - 1]
            for k in range(T - 2, -1, -1):
                d *= v
                d += f
                f *= v
                f += S[k]
            d *= v
            d /= f
            np.divide(f[0], f[1], out=h)
            np.log(h, out=h)
            np.subtract(d[0], d[1], out=v)
            h /= v
            np.clip(h, -2.0, 2.0, out=h)
            z -= h
            np.abs(h, out=h)
            if not (h > 1e-7).any():
                break
        return h

    def quotient(self, C, root):
        q, low, high = C[0].copy(), self.lo, self.hi
        low[:], high[:] = q, q
        for k in range(1, self.T):
            q *= root
            q += C[k]
            np.minimum(low, q, out=low)
            np.maximum(high, q, out=high)
        return (low >= 0) | (high <= 0)

    def rescue(self, C, z, bad, at, out):
        """Smooth the quotient; where it still changes sign, all roots by numpy."""
        A = C * np.exp(self.years[:, None] * z)
        q = np.where(z > 0, -np.cumsum(A[:-1], 0), np.cumsum(A[::-1], 0)[-2::-1])
        smooth = self.binomial @ q
        left = np.flatnonzero(bad | ~((smooth >= 0).all(0) | (smooth <= 0).all(0)))
        for j in left:
            roots = np.roots(C[::-1, j])
            real = np.sort(roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real)
            one = real.size > 0 and (real.size == 1 or np.diff(np.log(real)).max() < 1e-6)
            out[at[j]] = 1.0 / real[0] - 1.0 if one else np.nan
