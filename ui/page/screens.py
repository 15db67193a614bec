"""The screens as Gradio pages: their skeleton, theme and scripts.

Gradio brings the frame and the forms; pictures and everything that follows from the
record are drawn by the scripts in ``static/`` beside it.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from fastapi import FastAPI

    from ui.page.context import PageContext


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One screen: its name, its path and the module that builds it.

    The module offers ``build(context)``, called inside the Gradio page, and
    ``router(context)`` with the routes that only this screen needs.  Its script
    is ``static/NAME.js`` and exports ``mount(host)``; its style ``static/NAME.css``.
    """

    name: str
    title: str
    path: str
    module: str


SCREENS = (
    Screen(name="bench", title="Bench", path="/", module="ui.page.bench"),
    Screen(name="review", title="Review", path="/review", module="ui.page.review"),
)
_REACHES_OUT = {
    "GRADIO_ANALYTICS_ENABLED": "False",
    "GRADIO_RUN_HISTORY": "False",
    "HF_HUB_OFFLINE": "1",
    "HF_HUB_DISABLE_TELEMETRY": "1",
}
SYSTEM_FONTS = ["system-ui", "Segoe UI", "Roboto", "DejaVu Sans", "sans-serif"]
MONO_FONTS = ["ui-monospace", "DejaVu Sans Mono", "Consolas", "monospace"]


def screens_present() -> tuple[Screen, ...]:
    """Give the screens whose module is there.

    Returns
    -------
    tuple of Screen
        In the order in which they stand in the navigation.
    """
    return tuple(s for s in SCREENS if importlib.util.find_spec(s.module))


def module_of(screen: Screen) -> ModuleType:
    """Import the module of a screen.

    Parameters
    ----------
    screen : Screen
        A screen that is present.

    Returns
    -------
    module
    """
    return importlib.import_module(screen.module)


def set_environment(cache: Path) -> None:
    """Keep Gradio from reading settings or reaching out; call it before its import.

    Parameters
    ----------
    cache : Path
        A folder of our own for whatever Gradio stores.
    """
    for name in [name for name in os.environ if name.startswith("GRADIO_")]:
        del os.environ[name]
    os.environ.update(_REACHES_OUT)
    os.environ["GRADIO_TEMP_DIR"] = str(cache)


def mount_screens(app: FastAPI, context: PageContext) -> FastAPI:
    """Build the Gradio pages and put them behind the routes of an application.

    Parameters
    ----------
    app : FastAPI
        Has all its own routes already.
    context : PageContext
        What the screens work with.

    Returns
    -------
    FastAPI
        The same application with the pages at ``/``.
    """
    set_environment(context.cache / "gradio")
    # Gradio reads the environment while it is imported.
    import gradio as gr  # noqa: PLC0415

    present = screens_present()
    with gr.Blocks(title="dotward", analytics_enabled=False) as pages:
        gr.Navbar(visible=False)
        module_of(present[0]).build(context)
    for screen in present[1:]:
        with pages.route(screen.title, screen.path):
            gr.Navbar(visible=False)
            module_of(screen).build(context)
    with warnings.catch_warnings():
        # It says that several pages exclude server-side rendering, which is off.
        warnings.simplefilter("ignore", UserWarning)
        gr.mount_gradio_app(
            app,
            pages,
            path="/",
            footer_links=[],
            run_history=False,
            enable_monitoring=False,
            max_file_size=1,
            ssr_mode=False,
            pwa=False,
            mcp_server=False,
            show_error=False,
            theme=_theme(gr),
        )
    return app


def _theme(gr: Any) -> Any:
    """Give Gradio's parts our colours; the values stand in ``static/base.css``."""
    theme = gr.themes.Base(font=SYSTEM_FONTS, font_mono=MONO_FONTS)
    pairs = {
        "body_background_fill": "--dw-paper",
        "body_text_color": "--dw-ink",
        "body_text_color_subdued": "--dw-soft",
        "block_background_fill": "--dw-card",
        "block_label_text_color": "--dw-ink",
        "block_title_text_color": "--dw-ink",
        "block_info_text_color": "--dw-soft",
        "border_color_primary": "--dw-line",
        "block_border_color": "--dw-line",
        "input_background_fill": "--dw-field",
        "input_border_color": "--dw-edge",
        "input_placeholder_color": "--dw-soft",
        "button_primary_background_fill": "--dw-accent",
        "button_primary_background_fill_hover": "--dw-accent",
        "button_primary_text_color": "--dw-on-accent",
        "button_secondary_background_fill": "--dw-card",
        "button_secondary_background_fill_hover": "--dw-field",
        "button_secondary_text_color": "--dw-ink",
        "button_secondary_border_color": "--dw-edge",
        "error_background_fill": "--dw-card",
        "error_text_color": "--dw-fault",
        "error_border_color": "--dw-fault",
    }
    names = set(vars(theme))
    settings = {"input_border_width": "1px", "input_border_width_dark": "1px"}
    for name, variable in pairs.items():
        for form in (name, f"{name}_dark"):
            if form in names:
                settings[form] = f"var({variable})"
    return theme.set(**settings)


def head_lines(static: Path) -> dict[str, str]:
    """Give the lines that load our own style and scripts, all from this machine.

    Parameters
    ----------
    static : Path
        Folder of our own files.

    Returns
    -------
    dict of str to str
        By the path of the page.
    """
    present = screens_present()
    styles = ("base", "pane", *(screen.name for screen in present))
    links = [f'<link rel="stylesheet" href="/own/{name}.css">' for name in styles]
    shared = [*sorted(p.name for p in static.glob("pane*.js")), "dom.js", "net.js"]
    lines = {}
    for screen in present:
        scripts = sorted(p.name for p in static.glob(f"{screen.name}*.js")) + shared
        lines[screen.path] = "\n".join(
            (
                '<meta name="referrer" content="no-referrer">',
                '<link rel="icon" href="/own/icon.svg" type="image/svg+xml">',
                *links,
                *(f'<link rel="modulepreload" href="/own/{name}">' for name in scripts),
                # async: it need not wait for Gradio's own scripts, which are many.
                '<script type="module" async src="/own/shell.js"></script>',
            )
        )
    return lines
