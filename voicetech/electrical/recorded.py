"""Figures among the recorded answers of a job."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation


def figure(answers: Mapping[str, str], field: str | None) -> Decimal | None:
    """Return the number recorded under a field, or None where none above 0 was given."""
    if field is None:
        return None
    try:
        value = Decimal(answers.get(field, ""))
    except InvalidOperation:
        return None
    return value if value.is_finite() and value > 0 else None
