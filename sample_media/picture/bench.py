"""The bench: wood, cutting mat, muffin tin, tools, bottles, and the light over it all."""

import math

import numpy as np
import skia

from .paint import around, blurred, colour, fill, hollow, lettering, linear, mix, radial, rim, stroke, turned, write

WIDTH, HEIGHT, MARGIN = 1920, 1080, 480
REEL = (760, 500)
CUPS = [(1180 + 205 * (i % 3), 235 + 205 * (i // 3)) for i in range(6)]
TUB = (1300, 790)


def wood(seed=3):
    """Oak boards as an image of the bench and its margin, one and a half pixels a unit."""
    wide, high = round((WIDTH + 2 * MARGIN) * 1.5), round((HEIGHT + 2 * MARGIN) * 1.5)
    rng = np.random.default_rng(seed)
    shades = np.zeros((high, wide), np.float32)
    board = high / 8
    xs = np.arange(wide)
    for i in range(8):
        top, bottom = round(i * board), round((i + 1) * board)
        ys = np.arange(bottom - top)[:, None]
        wave = sum(rng.uniform(4, 22) * np.sin(xs / rng.uniform(180, 700) + rng.uniform(0, 6)) for _ in range(3))
        knot_x, knot_y = rng.uniform(0.1, 0.9) * wide, rng.uniform(0.2, 0.8) * board
        knot = 46 * np.exp(-(((xs - knot_x) / 150) ** 2 + ((ys - knot_y) / 46) ** 2))
        grain = np.sin((ys + wave + knot) / 7.5) * 0.35 + np.sin((ys + wave * 1.3 + knot * 1.5) / 3.1 + i) * 0.25
        streak = np.repeat(rng.standard_normal((bottom - top, wide // 60 + 1)), 60, axis=1)[:, :wide] * 0.18
        shades[top:bottom] = grain + streak + rng.uniform(-0.5, 0.5) - 0.5 * knot / 46
        shades[max(bottom - 3, 0) : bottom] -= 2.6
        shades[top : top + 2] += 0.7
    base = np.array([142, 94, 54], np.float32)
    picture = np.clip(base + shades[:, :, None] * np.array([17, 13, 9], np.float32), 0, 255).astype(np.uint8)
    rgba = np.dstack([picture, np.full((high, wide), 255, np.uint8)])
    image = skia.Image.fromarray(np.ascontiguousarray(rgba), colorType=skia.kRGBA_8888_ColorType)
    small = skia.Surface(wide, high)
    small.getCanvas().drawImage(image, 0, 0, skia.SamplingOptions(skia.FilterMode.kLinear),
                                skia.Paint(ImageFilter=skia.ImageFilters.Blur(2.6, 1.3)))
    return small.makeImageSnapshot()


def mat(canvas):
    box = skia.Rect(405, 80, 1050, 1000)
    canvas.drawRoundRect(skia.Rect(411, 90, 1060, 1012), 22, 22, blurred("#000000", 10, 0.5))
    canvas.drawRoundRect(box, 22, 22, linear((405, 80), (1050, 1000), "#47605c", "#344a48", "#263735"))
    for i in range(1, 16):
        x = 405 + i * 40.3
        canvas.drawLine(x, 104, x, 976, stroke("#d9e6d5", 1.6 if i % 4 == 0 else 0.8, 0.3 if i % 4 == 0 else 0.16))
    for i in range(1, 23):
        y = 80 + i * 40
        canvas.drawLine(428, y, 1027, y, stroke("#d9e6d5", 1.6 if i % 4 == 0 else 0.8, 0.3 if i % 4 == 0 else 0.16))
    canvas.drawRoundRect(skia.Rect(428, 104, 1027, 976), 6, 6, stroke("#e6f0e0", 1.6, 0.4))
    canvas.drawRoundRect(box, 22, 22, stroke("#0f1918", 2, 0.8))


def tin(canvas):
    left, top = CUPS[0][0] - 118, CUPS[0][1] - 118
    right, bottom = CUPS[5][0] + 118, CUPS[5][1] + 118
    box = skia.Rect(left, top, right, bottom)
    canvas.drawRoundRect(skia.Rect(left + 12, top + 18, right + 14, bottom + 20), 34, 34, blurred("#000000", 14, 0.6))
    canvas.drawRoundRect(box, 34, 34, linear((left, top), (right, bottom), "#f2eadb", "#b9b4aa", "#8d8880", "#c4beb2", "#6f6a63"))
    canvas.drawRoundRect(skia.Rect(left + 5, top + 5, right - 5, bottom - 5), 30, 30, stroke("#fffaf0", 2.5, 0.7))
    canvas.drawRoundRect(box, 34, 34, stroke("#3d3832", 2, 0.7))
    for i, (x, y) in enumerate(CUPS):
        canvas.drawCircle(x, y, 92, stroke("#fffaf0", 3, 0.6))
        hollow(canvas, x, y, 88, "#69645d", 1)
        canvas.drawCircle(x + 5, y + 7, 66, radial(x + 16, y + 18, 80, (0, "#b3ada2", 1), (0.7, "#8c867d", 1), (1, "#6a645c", 1)))
        canvas.drawCircle(x + 5, y + 7, 66, stroke("#4b463f", 1.5, 0.5))
        write(canvas, str(i + 1), x, y - 98 + 196 + 9, 15, "#3d3832", True, alpha=0.75)


def rag(canvas):
    box = skia.Path()
    box.moveTo(1476, 610)
    box.cubicTo(1600, 592, 1760, 622, 1884, 600)
    box.cubicTo(1902, 740, 1872, 880, 1896, 1020)
    box.cubicTo(1760, 1044, 1600, 1010, 1486, 1036)
    box.cubicTo(1466, 900, 1494, 750, 1476, 610)
    box.close()
    canvas.save()
    canvas.translate(8, 12)
    canvas.drawPath(box, blurred("#000000", 9, 0.5))
    canvas.restore()
    canvas.drawPath(box, linear((1476, 600), (1896, 1040), "#e9dcc4", "#d9c7a6", "#c7b28d"))
    canvas.save()
    canvas.clipPath(box, True)
    for i in range(5):
        x = 1520 + i * 84
        canvas.drawRect(skia.Rect(x, 580, x + 22, 1050), fill("#a8493a", 0.6))
        canvas.drawRect(skia.Rect(x + 30, 580, x + 35, 1050), fill("#a8493a", 0.5))
    for i in range(5):
        y = 640 + i * 84
        canvas.drawRect(skia.Rect(1460, y, 1910, y + 22), fill("#a8493a", 0.38))
    fold = skia.Path()
    fold.moveTo(1470, 700)
    fold.cubicTo(1600, 780, 1700, 690, 1900, 820)
    canvas.drawPath(fold, stroke("#5b4023", 16, 0.2, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, 8)))
    canvas.restore()


def tub(canvas):
    x, y = TUB
    canvas.drawCircle(x + 14, y + 20, 158, blurred("#000000", 14, 0.55))
    canvas.drawCircle(x, y, 156, fill("#e8e5db"))
    rim(canvas, x, y, 156, 14, "#dcd6c6", 0.4)
    hollow(canvas, x, y, 140, "#7c7258", 1)
    canvas.drawCircle(x, y, 138, radial(x - 40, y - 50, 190, (0, "#d9b868", 1), (0.6, "#a5853f", 1), (1, "#5f4a22", 1)))


def tub_liquid(canvas):
    """The degreaser's surface, over what lies in it. About the tub's middle."""
    canvas.drawCircle(0, 0, 138, radial(-40, -50, 190, (0, "#e6c678", 0.42), (0.6, "#ad8a42", 0.5), (1, "#5f4a22", 0.6)))
    glint = skia.Path()
    glint.addArc(skia.Rect(-112, -112, 112, 112), 190, 70)
    canvas.drawPath(glint, stroke("#fffbe8", 7, 0.4))


def label(canvas, text, size=16):
    write(canvas, text, 0, size * 0.35, size, "#3a2a18", True, spacing=1)


def grease_pot(canvas):
    turned(canvas, 0, 0, 62, "#8b8f8f", 0.45)
    hollow(canvas, 0, 0, 52, "#3b3a33", 1)
    canvas.drawCircle(0, 0, 48, radial(-14, -18, 66, (0, "#cfe0ea", 1), (0.6, "#8db0c4", 1), (1, "#55788c", 1)))
    swirl = skia.Path()
    for i in range(90):
        angle, radius = i * 0.19, 4 + i * 0.45
        point = (radius * math.cos(angle), radius * math.sin(angle))
        swirl.lineTo(*point) if i else swirl.moveTo(*point)
    canvas.drawPath(swirl, stroke("#f2fbff", 4, 0.5))


def bottle(canvas, words, body, cap):
    """A bottle lying on its side, neck to the left."""
    canvas.drawRoundRect(skia.Rect(-58, -38, 104, 38), 20, 20,
                         linear((0, -38), (0, 38), mix(body, "#ffffff", 0.55), body, mix(body, "#000000", 0.5)))
    canvas.drawRoundRect(skia.Rect(-86, -17, -52, 17), 5, 5, linear((0, -17), (0, 17), mix(cap, "#ffffff", 0.5), cap, mix(cap, "#000000", 0.5)))
    tip = skia.Path()
    tip.moveTo(-86, -9)
    tip.lineTo(-128, -2.5)
    tip.lineTo(-128, 2.5)
    tip.lineTo(-86, 9)
    tip.close()
    canvas.drawPath(tip, linear((0, -9), (0, 9), "#ffffff", "#c7c2b8", "#77726a"))
    canvas.drawRect(skia.Rect(-36, -37, 82, 37), linear((0, -37), (0, 37), "#fff9ea", "#f0e4c8", "#c9b78f"))
    canvas.save()
    canvas.translate(23, 0)
    label(canvas, words, 19)
    canvas.restore()
    canvas.drawRoundRect(skia.Rect(-50, -31, 96, -24), 4, 4, fill("#ffffff", 0.35))


def oil_bottle(canvas):
    bottle(canvas, "OIL", "#c98f2d", "#20201f")


def alcohol_bottle(canvas):
    bottle(canvas, "ALCOHOL", "#9fc3cf", "#3a70a0")


def screwdriver(canvas):
    """Its tip at the origin, its handle along +x."""
    canvas.drawRoundRect(skia.Rect(0, -4.6, 150, 4.6), 2, 2, linear((0, -5), (0, 5), "#fafafa", "#a9a9a6", "#55524e"))
    point = skia.Path()
    point.moveTo(-2, 0)
    point.lineTo(14, -5.4)
    point.lineTo(14, 5.4)
    point.close()
    canvas.drawPath(point, fill("#5c5955"))
    canvas.drawRoundRect(skia.Rect(132, -15, 168, 15), 7, 7, linear((0, -15), (0, 15), "#4d4d4c", "#1e1e1d", "#0a0a0a"))
    canvas.drawRoundRect(skia.Rect(156, -24, 300, 24), 20, 20, linear((0, -24), (0, 24), "#f0a050", "#cf5b22", "#66270c"))
    for y in (-14, -5, 5, 14):
        canvas.drawLine(178, y, 278, y, stroke("#3c1706", 3, 0.45))
        canvas.drawLine(178, y - 2, 278, y - 2, stroke("#ffd9ad", 1.2, 0.4))


def spanner(canvas):
    """Its jaw about the origin, its shank along +x."""
    shape = skia.Path()
    shape.moveTo(34, -11)
    shape.lineTo(250, -9)
    shape.cubicTo(268, -24, 300, -20, 306, 0)
    shape.cubicTo(300, 20, 268, 24, 250, 9)
    shape.lineTo(34, 11)
    shape.cubicTo(22, 44, -20, 42, -34, 24)
    shape.lineTo(-6, 22)
    shape.lineTo(14, 20)
    shape.lineTo(22, 0)
    shape.lineTo(14, -20)
    shape.lineTo(-6, -22)
    shape.lineTo(-34, -24)
    shape.cubicTo(-20, -42, 22, -44, 34, -11)
    shape.close()
    canvas.drawPath(shape, linear((0, -30), (0, 30), "#fbf8f0", "#b7b6b3", "#6b6864", "#a6a39e"))
    canvas.drawPath(shape, stroke("#2b2622", 1.6, 0.8))
    canvas.drawRoundRect(skia.Rect(70, -4, 220, 4), 4, 4, fill("#5c5955", 0.4))
    write(canvas, "10", 146, 4, 11, "#f7f0e0", True)
    hollow(canvas, 282, 0, 9)


def tweezers(canvas):
    for side in (-1, 1):
        leg = skia.Path()
        leg.moveTo(0, side * 1)
        leg.cubicTo(60, side * 6, 120, side * 16, 236, side * 4)
        leg.lineTo(236, side * 0.5)
        leg.cubicTo(120, side * 8, 60, side * 1.5, 0, 0)
        leg.close()
        canvas.drawPath(leg, linear((0, -16), (0, 16), "#ffffff", "#b5b5b2", "#6a6763"))
        canvas.drawPath(leg, stroke("#2b2622", 1, 0.8))
    canvas.drawRoundRect(skia.Rect(222, -6, 250, 6), 4, 4, fill("#77736e"))


def toothbrush(canvas):
    canvas.drawRoundRect(skia.Rect(60, -8, 330, 8), 8, 8, linear((0, -8), (0, 8), "#f7c9c0", "#d4574a", "#76231b"))
    canvas.drawRoundRect(skia.Rect(-6, -12, 76, 12), 9, 9, linear((0, -12), (0, 12), "#f7c9c0", "#d4574a", "#76231b"))
    for row in range(4):
        for column in range(11):
            x, y = 2 + column * 6.2, -8 + row * 5.4
            canvas.drawCircle(x, y, 2.8, fill("#f6f1e3"))
            canvas.drawCircle(x + 0.6, y + 0.7, 1.4, fill("#b9ad93", 0.7))


def mug(canvas):
    canvas.drawRoundRect(skia.Rect(58, -17, 104, 17), 14, 14, stroke("#e9e0cd", 13))
    turned(canvas, 0, 0, 70, "#e9e0cd", 0.25, rings=False)
    hollow(canvas, 0, 0, 59, "#2a1508", 1)
    canvas.drawCircle(0, 0, 57, radial(-16, -18, 80, (0, "#a5683a", 1), (0.6, "#6f3d1b", 1), (1, "#3a1c0a", 1)))
    canvas.drawCircle(-18, -20, 16, blurred("#ffe9c8", 6, 0.3))


def note(canvas):
    """A card about the sister model: the two spools side by side."""
    canvas.rotate(-3)
    canvas.drawRect(skia.Rect(-150, -96, 150, 96), linear((-150, -96), (150, 96), "#fffaf0", "#f4ead2", "#e2d3b0"))
    for x, half, name in ((-72, 26, "TAMSEL 12"), (70, 46, "TAMSEL 16")):
        canvas.drawRect(skia.Rect(x - half, -34, x + half, 34), fill("#3f8a7e", 0.8))
        for i in range(8):
            canvas.drawLine(x - half, -34 + i * 9, x + half, -30 + i * 9, stroke("#12302c", 1, 0.5))
        for side in (-1, 1):
            canvas.drawRoundRect(skia.Rect(x + side * half - 6, -52, x + side * half + 6, 52), 4, 4, fill("#5c6166"))
        write(canvas, name, x, -66, 16, "#3b3128", True)
    write(canvas, "same inside", 0, 82, 17, "#9b3b22", True)


def packet(canvas):
    """The clear bag that the new drag washer comes in, drawn over the washer."""
    box = skia.Rect(-140, -150, 140, 136)
    canvas.drawRoundRect(box, 8, 8, linear((-140, -150), (140, 136), "#ffffff", "#cfe0ea", "#ffffff", alpha=0.2))
    canvas.drawRoundRect(box, 8, 8, stroke("#eaf4fb", 2, 0.6))
    for x in (-110, -60, 80):
        canvas.drawLine(x, -90, x + 50, 120, stroke("#ffffff", 6, 0.14))
    canvas.drawRect(skia.Rect(-142, -196, 142, -128), linear((0, -196), (0, -128), "#fff6e2", "#eadbb9"))
    write(canvas, "40-216", 0, -160, 30, "#8c2f1d", True, spacing=2)
    write(canvas, "DRAG WASHER", 0, -138, 14, "#3b3128", True, spacing=2)
    canvas.drawCircle(0, -186, 6, fill("#6d4a2a"))


def drop(canvas):
    canvas.drawCircle(0, 0, 8, radial(-2, -3, 11, (0, "#fff4cf", 1), (0.5, "#d9a441", 0.95), (1, "#7a4e12", 0.95)))


def dial_scale(canvas):
    """A spring scale with its hook to the right, needle drawn apart."""
    canvas.drawLine(96, 0, 136, 0, stroke("#6b6864", 7))
    hook = skia.Path()
    hook.addArc(skia.Rect(132, -16, 164, 16), 180, 250)
    canvas.drawPath(hook, stroke("#8d8a85", 6))
    rim(canvas, 0, 0, 108, 20, "#a33a2a", 0.45)
    canvas.drawCircle(0, 0, 88, radial(-20, -30, 120, (0, "#fffdf4", 1), (0.8, "#f3ead4", 1), (1, "#cdbf9f", 1)))
    for i in range(33):
        angle = math.radians(dial_angle(i / 4))
        inner = 64 if i % 4 == 0 else 73
        canvas.drawLine(inner * math.cos(angle), inner * math.sin(angle), 81 * math.cos(angle), 81 * math.sin(angle),
                        stroke("#2b2622", 2.4 if i % 4 == 0 else 1.1, 0.9))
        if i % 4 == 0:
            write(canvas, str(i // 4), 52 * math.cos(angle), 52 * math.sin(angle) + 6, 17, "#2b2622", True)
    write(canvas, "POUNDS", 0, 34, 10, "#7c2b1e", True, spacing=1)


def dial_angle(pounds):
    return 140 + pounds / 8 * 260


def needle(canvas):
    path = skia.Path()
    path.moveTo(74, 0)
    path.lineTo(-16, -5)
    path.lineTo(-16, 5)
    path.close()
    canvas.drawPath(path, fill("#a3271a"))
    turned(canvas, 0, 0, 8, "#2b2622", 0.5, rings=False)


def cat_tail(canvas):
    """A cat's tail, its root to the right, curling to the left."""
    canvas.scale(-1, 1)
    path = skia.Path()
    path.moveTo(-260, 30)
    path.cubicTo(-120, 70, -60, -50, 60, -20)
    path.cubicTo(110, -8, 120, -50, 96, -66)
    canvas.drawPath(path, stroke("#2a1c12", 50))
    canvas.drawPath(path, stroke("#5b4330", 44))
    canvas.save()
    canvas.translate(-4, -8)
    canvas.drawPath(path, stroke("#8a6a4d", 16, 0.5, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, 6)))
    canvas.restore()
    measure = skia.PathMeasure(path, False)
    total = measure.getLength()
    for i in range(9):
        band = skia.Path()
        start = total * (0.1 + i * 0.1)
        measure.getSegment(start, start + 15, band, True)
        canvas.drawPath(band, stroke("#2a1c12", 43, 0.6, StrokeCap=skia.Paint.kButt_Cap))


def lamp(wide, high):
    """The lamp over the bench, to be multiplied in: warm at the upper left, the corners falling off."""
    surface = skia.Surface(wide, high)
    surface.getCanvas().drawPaint(radial(wide * 0.44, high * 0.38, wide * 0.74, (0, "#fffaee", 1), (0.45, "#fbf0dd", 1), (1, "#6b5546", 1)))
    return surface.makeImageSnapshot()


def title_card(canvas, wide, high, alpha):
    canvas.drawRect(skia.Rect(0, high * 0.60, wide, high * 0.86), fill("#160e09", 0.72 * alpha))
    canvas.drawRect(skia.Rect(0, high * 0.60, wide, high * 0.60 + 3), fill("#c47a3e", alpha))
    canvas.drawRect(skia.Rect(0, high * 0.86 - 3, wide, high * 0.86), fill("#c47a3e", alpha))
    write(canvas, "Servicing a Brindock Tamsel 12", wide / 2, high * 0.725, 50, "#fbeed6", True, alpha)
    write(canvas, "THE HALF LANTERN BENCH", wide / 2, high * 0.805, 21, "#e0a874", False, alpha, spacing=6)
