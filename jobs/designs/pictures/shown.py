"""A crop as it is seen on the turned and mirrored picture, and as a recipe keeps it: of the upright one."""

from dataclasses import replace

from jobs.designs.pictures.recipe import FramePart

Box = tuple[float, float, float, float]
"""Left, top, right, bottom, each as a share of the whole, 0…1."""


def seen_box(frame: FramePart) -> Box:
    left, top, right, bottom = frame.left, frame.top, frame.right, frame.bottom
    for _ in range(frame.turn // 90):
        left, top, right, bottom = 1.0 - bottom, left, 1.0 - top, right
    return (1.0 - right, top, 1.0 - left, bottom) if frame.mirror else (left, top, right, bottom)


def with_seen_box(frame: FramePart, box: Box) -> FramePart:
    left, top, right, bottom = box
    if frame.mirror:
        left, right = 1.0 - right, 1.0 - left
    for _ in range(frame.turn // 90):
        left, top, right, bottom = top, 1.0 - right, bottom, 1.0 - left
    return replace(frame, left=left, top=top, right=right, bottom=bottom)


def seen_level_deg(frame: FramePart) -> float:
    """Clockwise as it is seen: a mirror turns the other way."""
    return -frame.level_deg if frame.mirror else frame.level_deg


def turned(frame: FramePart) -> FramePart:
    """A quarter turn further, clockwise as it is seen."""
    return replace(frame, turn=(frame.turn + (270 if frame.mirror else 90)) % 360)


def mirrored(frame: FramePart) -> FramePart:
    return replace(frame, mirror=not frame.mirror)


def seen_size(width: float, height: float, frame: FramePart) -> tuple[float, float]:
    """The whole picture's width and height as it is seen."""
    return (height, width) if frame.turn in (90, 270) else (width, height)
