"""Paint, metal and sprites: what everything on the bench is drawn with.

A sprite is drawn once, at three times bench scale, with its own soft shadow, and then only placed: that keeps a frame
at a few milliseconds. Lengths are bench units; the whole bench is 1920 by 1080 of them. Angles are degrees.
"""

import math
from dataclasses import dataclass

import numpy as np
import skia

SHARP = 3.0  # sprite pixels to one bench unit
SMOOTH = skia.SamplingOptions(skia.FilterMode.kLinear, skia.MipmapMode.kLinear)


def colour(code, alpha=1.0):
    """A skia colour from "#rrggbb"."""
    r, g, b = (int(code[i : i + 2], 16) for i in (1, 3, 5))
    return skia.Color(r, g, b, round(255 * alpha))


def mix(one, other, share):
    """The "#rrggbb" that lies `share` of the way from one to the other."""
    pairs = [(int(one[i : i + 2], 16), int(other[i : i + 2], 16)) for i in (1, 3, 5)]
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def fill(code, alpha=1.0, **more):
    return skia.Paint(Color=colour(code, alpha), AntiAlias=True, **more)


def stroke(code, width, alpha=1.0, **more):
    ends = {"StrokeCap": skia.Paint.kRound_Cap, "StrokeJoin": skia.Paint.kRound_Join, **more}
    return skia.Paint(Color=colour(code, alpha), AntiAlias=True, Style=skia.Paint.kStroke_Style, StrokeWidth=width, **ends)


def linear(start, end, *codes, alpha=1.0):
    return skia.Paint(AntiAlias=True, Shader=skia.GradientShader.MakeLinear(
        [skia.Point(*start), skia.Point(*end)], [colour(c, alpha) for c in codes]))


def radial(x, y, radius, *stops):
    """A paint of rings; a stop is (share of the radius, "#rrggbb", alpha)."""
    return skia.Paint(AntiAlias=True, Shader=skia.GradientShader.MakeRadial(
        skia.Point(x, y), radius, [colour(c, a) for _, c, a in stops], [s for s, _, _ in stops]))


def blurred(code, sigma, alpha=1.0):
    return skia.Paint(Color=colour(code, alpha), AntiAlias=True, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, sigma))


def turned(canvas, x, y, radius, base, gloss=0.5, rings=True):
    """A disc of lathe-turned metal: bright fans toward the lamp, fine rings."""
    light, dark = mix(base, "#fff4dc", gloss), mix(base, "#100c0a", gloss * 0.8)
    fan = [dark, base, light, base, dark, base, mix(base, light, 0.6), base, dark]
    shader = skia.GradientShader.MakeSweep(x, y, [colour(c) for c in fan])
    canvas.save()
    canvas.rotate(-20, x, y)
    canvas.drawCircle(x, y, radius, skia.Paint(AntiAlias=True, Shader=shader))
    canvas.restore()
    if rings:
        for i in range(3, int(radius), 4):
            canvas.drawCircle(x, y, i, stroke("#000000" if i % 8 < 4 else "#ffffff", 0.6, 0.05))


def rim(canvas, x, y, radius, width, base, gloss=0.5):
    """A turned ring with a lit and a shaded edge; `radius` is its outer one."""
    ring = skia.Path()
    ring.addCircle(x, y, radius)
    ring.addCircle(x, y, radius - width)
    ring.setFillType(skia.PathFillType.kEvenOdd)
    canvas.save()
    canvas.clipPath(ring, True)
    turned(canvas, x, y, radius, base, gloss, rings=False)
    canvas.restore()
    edge = linear((x - radius, y - radius), (x + radius, y + radius), mix(base, "#fff6e0", 0.75), base, mix(base, "#0c0806", 0.7))
    edge.setStyle(skia.Paint.kStroke_Style)
    edge.setStrokeWidth(2)
    canvas.drawCircle(x, y, radius - 1, edge)
    edge = linear((x - radius, y - radius), (x + radius, y + radius), mix(base, "#0c0806", 0.7), base, mix(base, "#fff6e0", 0.6))
    edge.setStyle(skia.Paint.kStroke_Style)
    edge.setStrokeWidth(1.6)
    canvas.drawCircle(x, y, radius - width + 1, edge)


def hollow(canvas, x, y, radius, depth="#17120f", alpha=0.9):
    """A round recess: dark toward the lamp, lit on the far lip."""
    canvas.drawCircle(x, y, radius, fill(depth, alpha))
    canvas.save()
    path = skia.Path()
    path.addCircle(x, y, radius)
    canvas.clipPath(path, True)
    canvas.drawCircle(x - radius * 0.12, y - radius * 0.14, radius * 1.06,
                      stroke("#000000", radius * 0.24, 0.45, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, radius * 0.1)))
    canvas.restore()
    lip = linear((x - radius, y - radius), (x + radius, y + radius), "#0a0706", "#f2dfbf")
    lip.setStyle(skia.Paint.kStroke_Style)
    lip.setStrokeWidth(1.4)
    canvas.drawCircle(x, y, radius, lip)


def gear(teeth, outer, root):
    """A spur gear's outline about the origin."""
    path, step = skia.Path(), 2 * math.pi / teeth
    for i in range(teeth):
        for share, radius in ((-0.28, root), (-0.16, outer), (0.16, outer), (0.28, root)):
            angle = (i + share) * step
            point = (radius * math.cos(angle), radius * math.sin(angle))
            path.lineTo(*point) if path.countPoints() else path.moveTo(*point)
    path.close()
    return path


def around(count, radius, start=0.0):
    """`count` points evenly about the origin."""
    for i in range(count):
        angle = math.radians(start + 360 * i / count)
        yield radius * math.cos(angle), radius * math.sin(angle)


def lettering(size, bold=False):
    style = skia.FontStyle.Bold() if bold else skia.FontStyle.Normal()
    return skia.Font(skia.Typeface("DejaVu Sans", style), size)


def write(canvas, text, x, y, size, code, bold=False, alpha=1.0, spacing=0.0):
    """Text centred about x on the base line y."""
    font = lettering(size, bold)
    widths = [font.measureText(c) + spacing for c in text]
    at = x - (sum(widths) - spacing) / 2
    for letter, width in zip(text, widths):
        canvas.drawString(letter, at, y, font, fill(code, alpha))
        at += width


class Scaled:
    """One picture in several sizes, halved from one to the next: the nearest that is no smaller is drawn."""

    def __init__(self, image, sharp):
        self.sizes = [(sharp, image)]
        while min(image.width(), image.height()) > 24:
            wide, high = (image.width() + 1) // 2, (image.height() + 1) // 2
            half = skia.Surface(wide, high)
            half.getCanvas().drawImageRect(image, skia.Rect(0, 0, wide, high), skia.SamplingOptions(skia.FilterMode.kLinear))
            image, sharp = half.makeImageSnapshot(), sharp / 2
            self.sizes.append((sharp, image))

    def draw(self, canvas, box, zoom, paint=None):
        """Draw it over the box where `zoom` screen pixels make one bench unit."""
        fit = [image for sharp, image in self.sizes if sharp >= zoom * 0.85]
        canvas.drawImageRect(fit[-1] if fit else self.sizes[0][1], box, skia.SamplingOptions(skia.FilterMode.kLinear), paint)


@dataclass(frozen=True)
class Sprite:
    image: Scaled
    shadow: Scaled
    box: skia.Rect  # where the picture lies about the origin, bench units

    def place(self, canvas, x, y, turn=0.0, scale=1.0, lift=0.0, squash=1.0, alpha=1.0, shaded=True):
        """Draw it at a place of the bench; `lift` (0 lying, 1 in the hand) moves its shadow away."""
        zoom = math.sqrt(abs(canvas.getTotalMatrix().getScaleX() ** 2 + canvas.getTotalMatrix().getSkewX() ** 2)) * scale
        looks = [(self.shadow, 5 + 34 * lift, 7 + 44 * lift, scale * (1 + 0.05 * lift), alpha * (0.62 - 0.25 * lift))] if shaded else []
        for image, dx, dy, size, strength in (*looks, (self.image, 0, 0, scale, alpha)):
            canvas.save()
            canvas.translate(x + dx, y + dy)
            canvas.scale(squash, 1)
            canvas.rotate(turn)
            canvas.scale(size, size)
            image.draw(canvas, self.box, zoom, skia.Paint(Alphaf=strength))
            canvas.restore()


def sprite(half, draw, soft=7.0, sharp=SHARP):
    """Draw once about the origin, within `half` units each way, `sharp` pixels to a unit."""
    half = half + 3 * soft
    side = round(2 * half * sharp)
    surface = skia.Surface(side, side)
    canvas = surface.getCanvas()
    canvas.translate(side / 2, side / 2)
    canvas.scale(sharp, sharp)
    draw(canvas)
    solid = surface.toarray()[:, :, 3] > 0
    rows, columns = np.flatnonzero(solid.any(1)), np.flatnonzero(solid.any(0))
    edge = round(3 * soft * sharp)
    left, top = max(columns[0] - edge, 0), max(rows[0] - edge, 0)
    right, bottom = min(columns[-1] + edge, side), min(rows[-1] + edge, side)
    image = surface.makeImageSnapshot(skia.IRect(int(left), int(top), int(right), int(bottom)))
    wide, high = math.ceil(image.width() / 3), math.ceil(image.height() / 3)
    dark = skia.Surface(wide, high)  # a shadow is soft: a third of the pixels will do
    paint = skia.Paint(ColorFilter=skia.ColorFilters.Blend(colour("#120a06"), skia.BlendMode.kSrcIn),
                       ImageFilter=skia.ImageFilters.Blur(soft * sharp / 3, soft * sharp / 3))
    dark.getCanvas().drawImageRect(image, skia.Rect(0, 0, wide, high), SMOOTH, paint)
    box = skia.Rect(*(v / sharp - half for v in (float(left), float(top), float(right), float(bottom))))
    return Sprite(Scaled(image, sharp), Scaled(dark.makeImageSnapshot(), sharp / 3), box)
