"""What a person may be killed by: it stands at the very top of every output."""

from packlayout.study import Study


def danger(study: Study) -> tuple[str, ...]:
    """Failed checks of overvoltage, in words."""
    return tuple(check.note for check in study.wiring.overvoltage) if study.wiring is not None else ()
