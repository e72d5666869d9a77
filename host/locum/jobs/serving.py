"""``locum serve``: a board on a pseudo-terminal, for any client."""

from __future__ import annotations

from locum.jobs.cases import Document


def serve(body: str, pty: str, interpreter: str = "python", seed: int = 1) -> Document:
    """Serve until Ctrl-C; the link appears when the board answers and goes when it ends."""
    from locum.link.serve import serve_pty

    serve_pty(body, pty, interpreter, seed=seed)
    return Document({"served": pty})
