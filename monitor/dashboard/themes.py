"""The two themes of the screens: quiet grey, and the terminal's own colours."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from textual.theme import BUILTIN_THEMES, Theme

from monitor.dashboard.palette import BACKGROUND
from monitor.dashboard.terminal import Colours

if TYPE_CHECKING:
    from textual.app import App

_GREY = Theme(
    name="quiet",
    primary="#8d969c",
    foreground="#b4b8bb",
    background=BACKGROUND,
    surface=BACKGROUND,
    panel=BACKGROUND,
    variables={
        "footer-background": "#24282b",
        "footer-key-foreground": "#e6e8e9",
        "footer-description-foreground": "#a6abaf",
    },
)
_ANSI = BUILTIN_THEMES["ansi-dark"]
_TERMINALS_OWN = replace(
    _ANSI,
    name="terminal",
    variables={**_ANSI.variables, "footer-key-foreground": "ansi_default"},
)


def dress(app: App[Any], shades: Colours) -> None:
    """Give an app the theme for so many colours, and no animation."""
    theme = _GREY if shades is Colours.FULL else _TERMINALS_OWN
    app.animation_level = "none"
    app.register_theme(theme)
    app.theme = theme.name
