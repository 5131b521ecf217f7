"""Contrast of two colours (WCAG 2.2, definitions of relative luminance and contrast ratio)."""


def linear(channel: float) -> float:
    """One sRGB channel, 0 to 1, without its transfer curve."""
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def luminance(colour) -> float:
    red, green, blue = (linear(channel) for channel in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(first, second) -> float:
    """From 1 (equal) to 21 (black on white)."""
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)


def from_hex(text: str):
    return tuple(int(text[i : i + 2], 16) / 255 for i in (1, 3, 5))
