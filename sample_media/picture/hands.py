"""Gloved hands, seen from above, coming in from the near edge of the bench."""

import math

import skia

from .paint import blurred, colour, fill, linear, mix, radial, stroke

GLOVE, SLEEVE = "#5f86ad", "#6b4a3a"


def limb(points):
    """The outline of a limb through (x, y, radius) points."""
    whole = skia.Path()
    for (x0, y0, r0), (x1, y1, r1) in zip(points, points[1:]):
        length = math.hypot(x1 - x0, y1 - y0) or 1.0
        nx, ny = -(y1 - y0) / length, (x1 - x0) / length
        piece = skia.Path()
        piece.moveTo(x0 + nx * r0, y0 + ny * r0)
        piece.lineTo(x1 + nx * r1, y1 + ny * r1)
        piece.lineTo(x1 - nx * r1, y1 - ny * r1)
        piece.lineTo(x0 - nx * r0, y0 - ny * r0)
        piece.close()
        for x, y, r in ((x0, y0, r0), (x1, y1, r1)):
            disc = skia.Path()
            disc.addCircle(x, y, r)
            piece = skia.Op(piece, disc, skia.PathOp.kUnion_PathOp)
        whole = skia.Op(whole, piece, skia.PathOp.kUnion_PathOp)
    return whole


def bend(points, steps=7):
    """More points along a smooth curve through the given ones."""
    out = []
    padded = [points[0], *points, points[-1]]
    for p0, p1, p2, p3 in zip(padded, padded[1:], padded[2:], padded[3:]):
        for i in range(steps):
            t = i / steps
            out.append(tuple(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t * t + (3 * b - a - 3 * c + d) * t ** 3)
                             for a, b, c, d in zip(p0, p1, p2, p3)))
    return [*out, points[-1]]


def shade(canvas, path, base=GLOVE):
    """Fill a limb so that it looks round: light above, dark below."""
    box = path.getBounds()
    canvas.drawPath(path, linear((box.left(), box.top()), (box.right(), box.bottom()), mix(base, "#f4f6ff", 0.34), base, mix(base, "#0c1830", 0.34)))
    canvas.save()
    canvas.clipPath(path, True)
    edge = stroke("#101c30", 15, 0.5, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, 6))
    canvas.save()
    canvas.translate(-4, -5)
    canvas.drawPath(path, edge)
    canvas.restore()
    canvas.drawPath(path, stroke("#dfeaf8", 5, 0.45, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, 3)))
    canvas.restore()
    canvas.drawPath(path, stroke("#1b2b42", 2, 0.75))


def crease(canvas, x, y, width, turn):
    canvas.save()
    canvas.translate(x, y)
    canvas.rotate(turn)
    arc = skia.Path()
    arc.moveTo(-width, -3)
    arc.quadTo(0, 4, width, -3)
    canvas.drawPath(arc, stroke("#1b2b42", 1.6, 0.4))
    canvas.drawPath(arc.makeTransform(skia.Matrix.Translate(0, 2.4)) if hasattr(arc, "makeTransform") else arc, stroke("#e8f1fb", 1.2, 0.3))
    canvas.restore()


def arm(canvas):
    """Sleeve and cuff, from the wrist at about (120, 250) to beyond the bench's edge."""
    sleeve = limb([(172, 372, 84), (300, 660, 108), (420, 940, 118)])
    shade(canvas, sleeve, SLEEVE)
    for i in range(3):
        fold = skia.Path()
        fold.moveTo(150 + i * 70, 470 + i * 130)
        fold.quadTo(250 + i * 50, 500 + i * 120, 330 + i * 60, 430 + i * 130)
        canvas.drawPath(fold, stroke("#2b1a12", 7, 0.28, MaskFilter=skia.MaskFilter.MakeBlur(skia.kNormal_BlurStyle, 3)))
    cuff = limb([(150, 318, 66), (178, 380, 72)])
    shade(canvas, cuff, mix(GLOVE, "#ffffff", 0.12))
    roll = skia.Path()
    roll.moveTo(112, 402)
    roll.quadTo(190, 440, 250, 366)
    canvas.drawPath(roll, stroke("#1b2b42", 3, 0.4))


def pinch(canvas):
    """A right hand that holds something at the origin between thumb and forefinger."""
    arm(canvas)
    back = limb(bend([(146, 312, 62), (132, 240, 70), (122, 172, 66), (112, 140, 58)]))
    for points in (
        [(168, 176, 32), (186, 120, 29), (160, 78, 26), (132, 74, 23)],
        [(142, 154, 33), (150, 92, 30), (116, 48, 27), (84, 46, 24)],
        [(112, 140, 34), (104, 74, 31), (66, 28, 27), (38, 24, 23)],
    ):
        shade(canvas, limb(bend(points)))
    shade(canvas, back)
    fore = [(84, 138, 34), (66, 70, 31), (30, 14, 26), (4, -8, 20)]
    shade(canvas, limb(bend(fore)))
    thumb = [(96, 214, 40), (34, 168, 37), (2, 92, 31), (-4, 26, 23)]
    shade(canvas, limb(bend(thumb)))
    crease(canvas, 62, 62, 17, -55)
    crease(canvas, 30, 16, 14, -50)
    crease(canvas, 4, 96, 17, -10)
    canvas.drawCircle(104, 196, 46, blurred("#dfeaf8", 18, 0.22))
    for x, y in ((84, 136), (114, 128), (144, 142)):
        canvas.drawCircle(x, y, 15, blurred("#e8f1fb", 7, 0.4))


def point(canvas):
    """A right hand whose forefinger points at the origin."""
    arm(canvas)
    for points in (
        [(176, 184, 32), (190, 138, 29), (166, 116, 27), (150, 138, 24)],
        [(150, 158, 33), (158, 104, 30), (128, 86, 28), (116, 112, 25)],
        [(118, 140, 34), (120, 82, 31), (92, 66, 28), (82, 98, 25)],
    ):
        shade(canvas, limb(bend(points)))
    shade(canvas, limb(bend([(146, 312, 62), (132, 240, 70), (122, 172, 66), (112, 140, 58)])))
    shade(canvas, limb(bend([(86, 146, 34), (56, 92, 29), (28, 44, 25), (4, 6, 18)])))
    shade(canvas, limb(bend([(92, 220, 40), (40, 196, 36), (24, 146, 31), (54, 112, 25)])))
    crease(canvas, 56, 92, 16, -50)
    crease(canvas, 30, 48, 13, -50)
    canvas.drawCircle(112, 196, 46, blurred("#dfeaf8", 18, 0.22))


def cup(canvas):
    """A right hand spread over something large at the origin."""
    arm(canvas)
    for points in (
        [(170, 182, 32), (180, 104, 29), (172, 42, 26), (154, 4, 21)],
        [(142, 156, 33), (140, 64, 30), (124, -8, 27), (104, -52, 22)],
        [(112, 142, 34), (94, 50, 31), (68, -22, 27), (44, -62, 22)],
        [(84, 150, 34), (50, 76, 30), (14, 12, 26), (-14, -22, 21)],
    ):
        shade(canvas, limb(bend(points)))
    shade(canvas, limb(bend([(146, 312, 62), (132, 240, 72), (124, 186, 72), (112, 158, 62)])))
    shade(canvas, limb(bend([(92, 224, 41), (20, 208, 37), (-46, 160, 31), (-78, 118, 23)])))
    for x, y, turn in ((50, 78, -35), (96, 54, -20), (141, 66, -5), (180, 106, 5), (-10, 186, 40)):
        crease(canvas, x, y, 16, turn)
    canvas.drawCircle(112, 206, 46, blurred("#dfeaf8", 18, 0.22))
    for x, y in ((84, 150), (112, 140), (142, 152), (168, 176)):
        canvas.drawCircle(x, y, 15, blurred("#e8f1fb", 7, 0.35))


def mirrored(draw):
    def left(canvas):
        canvas.scale(-1, 1)
        draw(canvas)
    return left
