"""The test points of the open step as a drawing."""

from voicetech.procedure import Procedure
from voicetech.session import Session


def drawn_points(procedure: Procedure, session: Session) -> str:  # noqa: ARG001
    """Return the points that are measured now as SVG, "" where there is nothing to draw."""
    return ""
