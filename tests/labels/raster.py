"""A label as a grey picture, drawn with rectangles alone, so that other people's reader can look at it."""

from __future__ import annotations

import numpy as np

from bedside.labels.layout import HEIGHT_MM, WIDTH_MM, Bars, Label


def picture_of_bars(modules: str, module_mm: float, dots_per_mm: float, quiet: int = 10) -> np.ndarray:
    """Only the bars, with their quiet zones, as a printer of that resolution would round them."""
    width = round((len(modules) + 2 * quiet) * module_mm * dots_per_mm)
    paper = np.full((round(8 * dots_per_mm) + 20, width), 255, dtype=np.uint8)
    _draw(paper[10:-10], modules, quiet * module_mm, module_mm, dots_per_mm)
    return paper


def picture_of_label(label: Label, dots_per_mm: float) -> np.ndarray:
    """A whole label; every text is a black box as wide as its room, the worst it can do to the bars."""
    paper = np.full((round(HEIGHT_MM * dots_per_mm), round(WIDTH_MM * dots_per_mm)), 255, dtype=np.uint8)
    for text in (*label.texts, label.time, label.collector):
        top, bottom = (round((text.y + text.size * part) * dots_per_mm) for part in (-0.8, 0.25))
        left, right = (round(x * dots_per_mm) for x in (text.x, text.x + text.room))
        paper[top:bottom, left:right] = 0
    bars: Bars = label.bars
    top, bottom = (round(y * dots_per_mm) for y in (bars.y, bars.y + bars.height))
    _draw(paper[top:bottom], bars.modules, bars.x, bars.module, dots_per_mm)
    return paper


def _draw(strip: np.ndarray, modules: str, x_mm: float, module_mm: float, dots_per_mm: float) -> None:
    for place, module in enumerate(modules):
        left, right = (round((x_mm + module_mm * (place + more)) * dots_per_mm) for more in (0, 1))
        if module == "1":
            strip[:, left:right] = 0
