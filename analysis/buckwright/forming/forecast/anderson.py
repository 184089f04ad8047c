"""Anderson mixing: correct the next movement of the sheet by how the last ones changed its forces."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["AndersonMixing"]

_DEPTH = 6  # movements kept; of 0, 3, 6 and 10 six was the fastest
_LEAST = 1e-6  # regularisation: keeps nearly equal movements from cancelling each other with huge weights


class AndersonMixing:
    """Remembers movements and the change of the response that each brought (D. G. Anderson, J. ACM 12, 1965).

    On a linear system this is GMRES over the last movements; it finds the compliance that the Laplacians
    miss.
    Reference: Walker & Ni, SIAM J. Numer. Anal. 49 (2011).
    """

    def __init__(self, nodes: int) -> None:
        self.follow(nodes)

    def forget(self) -> None:
        """Start afresh: the forces or the response have changed in a way that no movement explains."""
        self._known = self._next = 0

    def follow(self, nodes: int) -> None:
        """Start afresh with another number of nodes.

        Parameters
        ----------
        nodes : number of nodes, >= 0
        """
        self.forget()
        self._ahead = np.zeros((_DEPTH, 3 * nodes), np.float32)
        self._answered = np.zeros((_DEPTH, 3 * nodes), np.float32)

    def learn(self, moved: NDArray[np.float64], answered: NDArray[np.float64]) -> None:
        """Record a movement and the change of the response that it caused; nothing when there was none.

        Parameters
        ----------
        moved, answered : (N, 3) float64, mm
        """
        if not answered.any():
            return
        self._answered[self._next] = answered.ravel()
        np.add(moved.ravel(), answered.ravel(), out=self._ahead[self._next], casting="same_kind")
        self._next = (self._next + 1) % _DEPTH
        self._known = min(self._known + 1, _DEPTH)

    def hold(self, nodes: NDArray[np.int64]) -> None:
        """Nodes have come to rest: nothing remembered may move them.

        Parameters
        ----------
        nodes : (k,) int64
        """
        if len(nodes) and self._known:
            entries = (3 * nodes[:, None] + np.arange(3)).ravel()
            self._ahead[:, entries] = 0.0
            self._answered[:, entries] = 0.0

    def corrected(self, answer: NDArray[np.float64]) -> NDArray[np.float64]:
        """The response corrected by what is remembered.

        Parameters
        ----------
        answer : (N, 3) float64, mm, movement under the present forces

        Returns
        -------
        (N, 3) float64, mm; `answer` itself when nothing is remembered, or when the correction leads uphill
        """
        if not self._known:
            return answer
        ahead, changes = self._ahead[: self._known], self._answered[: self._known]
        flat = answer.ravel().astype(np.float32)
        gram = (changes @ changes.T).astype(np.float64)
        length = np.sqrt(np.maximum(np.diag(gram), 1e-300))
        normal = gram / np.outer(length, length) + _LEAST * np.eye(self._known)
        share = (np.linalg.solve(normal, (changes @ flat) / length) / length).astype(np.float32)
        better = flat - share @ ahead
        if not np.isfinite(better).all() or float(better @ flat) <= 0.0:
            self.forget()
            return answer
        return np.asarray(better.reshape(-1, 3), np.float64)
