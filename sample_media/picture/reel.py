"""The Brindock Tamsel 12, an invented small lever drag, piece by piece, seen from the handle side.

Every function draws one piece about the origin, in place on the reel unless its name says otherwise.
"""

import math
import random

import skia

from .paint import (around, blurred, colour, fill, gear, hollow, linear, mix, radial, rim, stroke, turned, write)

GRAPHITE, COPPER, STEEL, BRASS, ALLOY = "#3d4247", "#c47a3e", "#b9bcbc", "#cfa75a", "#8f9499"
RADIUS = 230
SHAFT = (52, 98)  # where the handle's shaft comes through the side plate
SCREWS = [(208 * math.cos(math.radians(a)), 208 * math.sin(math.radians(a))) for a in (-90, -30, 30, 90, 150, 210)]
LONG = 3  # the screw by the foot


def cross(canvas, x, y, size, turn=18):
    canvas.save()
    canvas.translate(x, y)
    canvas.rotate(turn)
    for w, h in ((size, size * 0.26), (size * 0.26, size)):
        canvas.drawRect(skia.Rect(-w / 2, -h / 2, w / 2, h / 2), fill("#1c1512", 0.92))
    canvas.drawLine(-size / 2, size * 0.13, size / 2, size * 0.13, stroke("#ffffff", 0.6, 0.5))
    canvas.restore()


def screw_head(canvas):
    turned(canvas, 0, 0, 13, STEEL, 0.6, rings=False)
    canvas.drawCircle(0, 0, 12.4, stroke("#2a221d", 1.2, 0.7))
    cross(canvas, 0, 0, 14)


def screw_lying(canvas, length=34):
    body = linear((0, -6), (0, 6), "#6b6a68", "#f1ece2", "#8c8a86", "#4c4743")
    canvas.drawRoundRect(skia.Rect(-length / 2 + 6, -5, length / 2, 5), 2, 2, body)
    for i in range(int(length / 2.6)):
        x = -length / 2 + 8 + i * 2.5
        if x < length / 2 - 1:
            canvas.drawLine(x, -5, x - 1.4, 5, stroke("#3c3733", 0.8, 0.8))
    head = skia.Path()
    head.moveTo(-length / 2 - 4, -12)
    head.quadTo(-length / 2 - 10, 0, -length / 2 - 4, 12)
    head.lineTo(-length / 2 + 6, 5)
    head.lineTo(-length / 2 + 6, -5)
    head.close()
    canvas.drawPath(head, linear((0, -12), (0, 12), "#7c7a77", "#f7f2e8", "#8f8c88", "#4c4743"))


def screw_lying_long(canvas):
    screw_lying(canvas, 58)


def frame(canvas):
    """The bare frame: foot, ring with its six tapped holes, and the far plate's inside at the bottom."""
    stem = skia.Path()
    stem.moveTo(-46, 205)
    stem.lineTo(46, 205)
    stem.lineTo(60, 268)
    stem.lineTo(-60, 268)
    stem.close()
    canvas.drawPath(stem, linear((-60, 0), (60, 0), "#2a2d30", mix(GRAPHITE, "#ffffff", 0.25), "#25282b"))
    foot = skia.Path()
    foot.moveTo(-150, 278)
    foot.cubicTo(-120, 262, -60, 260, 0, 260)
    foot.cubicTo(60, 260, 120, 262, 150, 278)
    foot.cubicTo(120, 288, -120, 288, -150, 278)
    foot.close()
    canvas.drawPath(foot, linear((0, 258), (0, 288), mix(STEEL, "#ffffff", 0.5), STEEL, "#55504c"))
    canvas.drawPath(foot, stroke("#2b2622", 1.4, 0.7))
    turned(canvas, 0, 0, RADIUS, GRAPHITE, 0.4)
    hollow(canvas, 0, 0, 196, "#24211f", 1.0)
    turned(canvas, 4, 5, 184, "#4a4a49", 0.28)
    canvas.drawCircle(0, 0, 190, radial(-40, -60, 230, (0, "#000000", 0.0), (0.75, "#000000", 0.12), (1, "#000000", 0.62)))
    for x, y in around(3, 120, 30):
        canvas.drawCircle(x, y, 30, fill("#1a1715", 0.8))
        canvas.drawCircle(x, y, 30, stroke("#d8c7a8", 1.2, 0.35))
    rim(canvas, 0, 0, 54, 16, ALLOY)
    hollow(canvas, 0, 0, 38)
    rim(canvas, 0, 0, RADIUS, 34, GRAPHITE, 0.5)
    canvas.drawCircle(0, 0, 197, stroke(COPPER, 3, 0.9))
    for x, y in SCREWS:
        hollow(canvas, x, y, 8)
        canvas.drawCircle(x, y, 10, stroke("#d9d2c4", 1, 0.35))


def shaft(canvas):
    """The spool shaft's end, which stays with the frame."""
    turned(canvas, 0, 0, 15, STEEL, 0.7, rings=False)
    canvas.drawCircle(0, 0, 15, stroke("#2a2420", 1.2, 0.8))
    hollow(canvas, 0, 0, 4)


def click_tongue(canvas):
    tongue = skia.Path()
    tongue.moveTo(-16, 9)
    tongue.cubicTo(-16, -10, 10, -12, 34, -3)
    tongue.cubicTo(26, 2, 14, 8, -16, 9)
    tongue.close()
    canvas.drawPath(tongue, linear((0, -12), (0, 12), mix(BRASS, "#ffffff", 0.5), BRASS, mix(BRASS, "#000000", 0.45)))
    canvas.drawPath(tongue, stroke("#3b2a14", 1.2, 0.8))
    turned(canvas, -8, 0, 7, STEEL, 0.6, rings=False)
    spring = skia.Path()
    spring.moveTo(-18, 18)
    for i in range(9):
        spring.lineTo(-14 + i * 6, 13 if i % 2 else 24)
    canvas.drawPath(spring, stroke("#2b2622", 3.4, 0.8))
    canvas.drawPath(spring, stroke("#d7d2c8", 1.8))


def spool_face(canvas):
    """The spool end on: a flange of alloy with the drag's seat in it."""
    for x, y in around(40, 181):
        canvas.drawCircle(x, y, 6, fill("#2d5d57"))
    turned(canvas, 0, 0, 190, ALLOY, 0.45)
    rim(canvas, 0, 0, 190, 22, "#c9a46c", 0.5)
    rim(canvas, 0, 0, 168, 10, ALLOY, 0.6)
    hollow(canvas, 0, 0, 128, "#4d4a47", 1)
    turned(canvas, 3, 4, 120, "#7d7a75", 0.3)
    canvas.drawCircle(0, 0, 126, radial(-20, -30, 150, (0, "#000000", 0.0), (0.7, "#000000", 0.1), (1, "#000000", 0.5)))
    for x, y in around(8, 148, 22):
        canvas.drawCircle(x, y, 7, fill("#26211e", 0.9))
        canvas.drawCircle(x, y, 7, stroke("#fff0d0", 0.9, 0.5))
    rim(canvas, 0, 0, 50, 14, ALLOY)
    hollow(canvas, 0, 0, 36)


def spool_side(canvas):
    """The spool lying on its flanges' edges: line between them, laid crosswise."""
    half, drum = 176, 64
    body = skia.Path()
    body.addRect(skia.Rect(-drum, -half + 24, drum, half - 24))
    canvas.drawPath(body, linear((0, -half), (0, half), "#173833", "#3f8a7e", "#5fb5a4", "#34776c", "#12302c"))
    canvas.save()
    canvas.clipPath(body, True)
    for i in range(-40, 130):
        y = -half + i * 4.2
        canvas.drawLine(-drum, y, drum, y + 26, stroke("#c9f2e6", 0.9, 0.28))
        canvas.drawLine(-drum, y + 26, drum, y, stroke("#08211d", 0.9, 0.3))
    canvas.restore()
    for x in (-drum - 14, drum + 14):
        flange = skia.Rect(x - 15, -half, x + 15, half)
        canvas.drawRoundRect(flange, 9, 9, linear((0, -half), (0, half), "#5d5f61", "#d5d3cd", "#f5efe2", "#a2a3a2", "#4a4745"))
        canvas.drawRoundRect(flange, 9, 9, stroke("#2b2622", 1.3, 0.7))
        canvas.drawLine(x - 5, -half + 8, x - 5, half - 8, stroke("#ffffff", 1.6, 0.45))
    for side in (-1, 1):
        canvas.drawRoundRect(skia.Rect(side * 108 - 14, -30, side * 108 + 14, 30), 5, 5,
                             linear((0, -30), (0, 30), "#68625c", "#efe8da", "#5b544e"))


def bearing(canvas):
    turned(canvas, 0, 0, 33, STEEL, 0.7, rings=False)
    hollow(canvas, 0, 0, 26.5, "#2a2521", 1)
    for x, y in around(9, 20.5, 8):
        canvas.drawCircle(x, y, 6.2, radial(x - 2, y - 2.4, 8, (0, "#ffffff", 1), (0.35, "#d9d9d6", 1), (1, "#4d4a47", 1)))
    cage = stroke(BRASS, 2.4, 0.85)
    canvas.drawCircle(0, 0, 20.5, cage)
    for x, y in around(9, 20.5, 8):
        canvas.drawCircle(x - 0.4, y - 0.4, 4.4, radial(x - 2, y - 2.2, 6, (0, "#ffffff", 1), (0.4, "#dededb", 1), (1, "#7b7875", 1)))
    rim(canvas, 0, 0, 15.5, 6.5, STEEL, 0.7)
    canvas.drawCircle(0, 0, 9, fill("#161210", 0.55))
    canvas.drawCircle(0, 0, 33, stroke("#2a2420", 1, 0.8))


def shim(canvas):
    rim(canvas, 0, 0, 25, 9, BRASS, 0.65)


def ring_of(canvas, outer, inner, paint):
    ring = skia.Path()
    ring.addCircle(0, 0, outer)
    ring.addCircle(0, 0, inner)
    ring.setFillType(skia.PathFillType.kEvenOdd)
    canvas.drawPath(ring, paint)
    return ring


def felt_washer(canvas):
    """The old drag washer: brown felt, its face glazed to a shine."""
    ring = ring_of(canvas, 116, 42, fill("#5e4632"))
    canvas.save()
    canvas.clipPath(ring, True)
    for i in range(1200):
        angle, radius = i * 2.399963, 42 + 74 * math.sqrt(((i * 7919) % 1200) / 1200)
        x, y = radius * math.cos(angle), radius * math.sin(angle)
        canvas.drawLine(x, y, x + 5 * math.cos(i), y + 5 * math.sin(i), stroke("#8d6e51" if i % 3 else "#3c2b1e", 1, 0.5))
    gloss = [colour("#fff3d6", a) for a in (0.02, 0.55, 0.02, 0.02, 0.4, 0.02, 0.02)]
    canvas.drawCircle(0, 0, 116, skia.Paint(AntiAlias=True, Shader=skia.GradientShader.MakeSweep(0, 0, gloss)))
    for radius in (58, 74, 80, 96):
        canvas.drawCircle(0, 0, radius, stroke("#2a1c12", 2, 0.35))
    canvas.restore()
    canvas.drawCircle(0, 0, 115, stroke("#2a1c12", 2, 0.8))
    canvas.drawCircle(0, 0, 43, stroke("#d8b98c", 1.4, 0.5))


def carbon_washer(canvas):
    ring = ring_of(canvas, 116, 42, fill("#1d1f22"))
    canvas.save()
    canvas.clipPath(ring, True)
    for row in range(-13, 13):
        for column in range(-13, 13):
            x, y = column * 10, row * 10
            lit = (row + column) % 2 == 0
            paint = linear((x, y), (x + 10, y) if lit else (x, y + 10), "#1b1d20", "#53585d" if lit else "#3a3e42", "#1b1d20")
            canvas.drawRect(skia.Rect(x, y, x + 9.4, y + 9.4), paint)
    canvas.drawCircle(0, 0, 116, radial(-50, -60, 200, (0, "#fff1d6", 0.22), (0.6, "#000000", 0.0), (1, "#000000", 0.35)))
    canvas.restore()
    canvas.drawCircle(0, 0, 115, stroke("#000000", 2, 0.8))
    canvas.drawCircle(0, 0, 43, stroke("#9aa0a6", 1.2, 0.5))


def smear(canvas):
    """Drag grease on the carbon washer: only just wet."""
    ring = skia.Path()
    ring.addCircle(0, 0, 113)
    ring.addCircle(0, 0, 45)
    ring.setFillType(skia.PathFillType.kEvenOdd)
    canvas.save()
    canvas.clipPath(ring, True)
    shine = [colour("#dff0ff", a) for a in (0.05, 0.5, 0.1, 0.3, 0.05, 0.45, 0.1, 0.35, 0.05)]
    canvas.drawCircle(0, 0, 116, skia.Paint(AntiAlias=True, Shader=skia.GradientShader.MakeSweep(0, 0, shine)))
    for radius in range(48, 114, 6):
        canvas.drawCircle(0, 0, radius, stroke("#ffffff", 1.4, 0.12))
    canvas.restore()


def drag_plate(canvas):
    """The drag plate with the pinion that the main gear drives standing up from it."""
    turned(canvas, 0, 0, 122, COPPER, 0.5)
    rim(canvas, 0, 0, 122, 10, COPPER, 0.65)
    for x, y in around(6, 82, 30):
        hollow(canvas, x, y, 19, "#2b1d14", 1)
    canvas.drawCircle(5, 7, 40, blurred("#1d0f06", 5, 0.6))
    wheel = gear(18, 38, 31)
    canvas.drawPath(wheel, linear((-38, -38), (38, 38), "#fbf3df", BRASS, "#5a4320"))
    canvas.drawPath(wheel, stroke("#3d2b12", 1, 0.9))
    turned(canvas, 0, 0, 27, BRASS, 0.5, rings=False)
    hollow(canvas, 0, 0, 17)


def belleville(canvas, up=True):
    rim(canvas, 0, 0, 33, 16, STEEL, 0.75)
    lamp = radial(-12, -14, 50, (0, "#ffffff", 0.5), (0.5, "#000000", 0.0), (1, "#000000", 0.4)) if up else \
        radial(12, 14, 50, (0, "#ffffff", 0.4), (0.5, "#000000", 0.05), (1, "#000000", 0.5))
    ring_of(canvas, 33, 17, lamp)


def side_plate(canvas):
    turned(canvas, 0, 0, RADIUS, GRAPHITE, 0.42)
    rim(canvas, 0, 0, RADIUS, 12, COPPER, 0.6)
    canvas.drawCircle(0, 0, 186, stroke("#000000", 2, 0.4))
    canvas.drawCircle(0.8, 1, 186, stroke("#ffffff", 1, 0.25))
    for x, y in SCREWS:
        hollow(canvas, x, y, 16, "#1f1c1a", 1)
        canvas.drawCircle(x, y, 6, fill("#060505"))
    # the lever's quadrant: a raised arc with a tick for every notch
    box = skia.Rect(-158, -158, 158, 158)
    arc = skia.Path()
    arc.addArc(box, 196, 118)
    canvas.drawPath(arc, stroke("#17191b", 30, 1))
    canvas.drawPath(arc, stroke("#565c62", 26, 1))
    canvas.drawPath(arc, stroke("#6d747b", 20, 0.8))
    for i in range(16):
        angle = math.radians(198 + i * 7.6)
        inner, outer = (147, 169) if i in (0, 10, 15) else (152, 164)
        canvas.drawLine(inner * math.cos(angle), inner * math.sin(angle), outer * math.cos(angle), outer * math.sin(angle),
                        stroke("#f3e3c3", 2.2 if i in (0, 10, 15) else 1.2, 0.95))
    for word, angle in (("FREE", 198), ("STRIKE", 274), ("FULL", 312)):
        canvas.save()
        canvas.rotate(angle + 90)
        write(canvas, word, 0, -180, 13, "#f3d9ac", True, spacing=1.5)
        canvas.restore()
    write(canvas, "BRINDOCK", -66, 128, 16, "#e5c291", True, spacing=3)
    write(canvas, "TAMSEL 12", -66, 156, 21, "#f6e3c2", True, spacing=1.5)
    canvas.drawLine(-126, 134, -6, 134, stroke("#e5c291", 1, 0.6))
    rim(canvas, 0, 0, 58, 12, ALLOY, 0.5)
    hollow(canvas, 0, 0, 45)
    canvas.drawCircle(*SHAFT, 46, stroke("#000000", 2, 0.4))
    rim(canvas, *SHAFT, 40, 12, ALLOY, 0.5)
    hollow(canvas, *SHAFT, 28)
    turned(canvas, *SHAFT, 20, BRASS, 0.5, rings=False)  # the end of the main gear's shaft: two flats and a thread
    canvas.drawRect(skia.Rect(SHAFT[0] - 14, SHAFT[1] - 20, SHAFT[0] + 14, SHAFT[1] + 20), fill("#8a6a32", 0.5))
    hollow(canvas, *SHAFT, 6)


def main_gear(canvas):
    wheel = gear(46, 84, 76)
    canvas.drawPath(wheel, linear((-84, -84), (84, 84), "#fdf0cf", BRASS, "#6b4e22"))
    canvas.drawPath(wheel, stroke("#3d2b12", 1, 0.9))
    turned(canvas, 0, 0, 72, BRASS, 0.45)
    for x, y in around(5, 46, 10):
        hollow(canvas, x, y, 14, "#2d2113", 1)
    rim(canvas, 0, 0, 24, 8, STEEL, 0.6)
    hollow(canvas, 0, 0, 15)


def side_plate_inside(canvas):
    turned(canvas, 0, 0, RADIUS, "#55585a", 0.35)
    rim(canvas, 0, 0, RADIUS, 16, GRAPHITE, 0.5)
    hollow(canvas, 0, 0, 192, "#35322f", 1)
    turned(canvas, 3, 4, 184, "#5f5e5b", 0.3)
    for x, y in around(12, 184):
        canvas.drawLine(x * 0.4, y * 0.4, x, y, stroke("#2a2725", 7, 0.7))
        canvas.drawLine(x * 0.4 - 1, y * 0.4 - 1, x - 1, y - 1, stroke("#98948c", 2.4, 0.7))
    for x, y in SCREWS:
        hollow(canvas, x, y, 9)
    rim(canvas, 0, 0, 66, 20, ALLOY, 0.5)
    hollow(canvas, 0, 0, 46)
    turned(canvas, -SHAFT[0], SHAFT[1], 60, "#4d4a47", 0.3)
    grains(canvas, 260, 60, 184, 5)


def grains(canvas, count, inner, outer, seed):
    """Half a beach, drifted into one corner more than the other."""
    chance = random.Random(seed)
    for _ in range(count):
        angle = chance.gauss(1.0, 1.2) if chance.random() < 0.7 else chance.uniform(0, 6.283)
        radius = inner + (outer - inner) * chance.random() ** 0.6
        canvas.drawCircle(radius * math.cos(angle), radius * math.sin(angle), chance.uniform(0.8, 2.6),
                          fill(chance.choice(("#e8cc97", "#b08d55", "#f3e0b8", "#8e6f42")), 0.9))


def sand(canvas):
    grains(canvas, 420, 30, 190, 11)


def lever(canvas):
    """The drag lever, pointing along +x."""
    canvas.drawPath(lever_shape(), linear((0, -40), (0, 40), mix(COPPER, "#fff2d8", 0.6), COPPER, mix(COPPER, "#1c0d04", 0.55)))
    canvas.drawPath(lever_shape(), stroke("#3a1f0c", 1.6, 0.8))
    canvas.drawLine(52, -5, 172, -4, stroke("#fff0d6", 3, 0.5))
    for i in range(6):
        canvas.drawLine(190 + i * 6, -10, 190 + i * 6, 10, stroke("#4c2810", 2, 0.8))
        canvas.drawLine(191.5 + i * 6, -10, 191.5 + i * 6, 10, stroke("#ffe3bd", 1, 0.6))
    rim(canvas, 0, 0, 50, 16, COPPER, 0.6)
    hollow(canvas, 0, 0, 34)


def lever_shape():
    path = skia.Path()
    path.moveTo(20, -44)
    path.cubicTo(70, -20, 120, -10, 178, -11)
    path.cubicTo(190, -18, 226, -18, 232, 0)
    path.cubicTo(226, 18, 190, 18, 178, 11)
    path.cubicTo(120, 10, 70, 20, 20, 44)
    path.close()
    return path


def preset_knob(canvas):
    canvas.drawPath(gear(28, 36, 33), fill("#2c2624"))
    turned(canvas, 0, 0, 33, COPPER, 0.6)
    for x, y in around(28, 34):
        canvas.drawLine(x * 0.86, y * 0.86, x, y, stroke("#3a1d0a", 2, 0.8))
    rim(canvas, 0, 0, 27, 4, COPPER, 0.7)
    canvas.drawCircle(0, -18, 3.6, fill("#fff0d0", 0.95))


def handle(canvas):
    """The handle from its shaft at the origin: the arm along +x, the knob at its end."""
    arm = skia.Path()
    arm.moveTo(-62, -15)
    arm.cubicTo(-84, -14, -84, 14, -62, 15)
    arm.cubicTo(-20, 26, 20, 26, 60, 16)
    arm.lineTo(196, 13)
    arm.cubicTo(212, 12, 212, -12, 196, -13)
    arm.lineTo(60, -16)
    arm.cubicTo(20, -26, -20, -26, -62, -15)
    arm.close()
    canvas.drawPath(arm, linear((0, -26), (0, 26), "#fdfaf2", "#b4b4b1", "#8a8885", "#4b4744"))
    canvas.drawPath(arm, stroke("#2b2622", 1.6, 0.8))
    for x in (88, 118, 148):
        hollow(canvas, x, 0, 7.5, "#241f1c", 1)
    rim(canvas, 0, 0, 24, 5, STEEL, 0.6)
    hollow(canvas, 0, 0, 17)
    canvas.drawCircle(204, 8, 46, blurred("#000000", 7, 0.5))
    canvas.drawCircle(200, 0, 46, radial(184, -18, 66, (0, "#6f7478", 1), (0.5, "#33373a", 1), (1, "#121314", 1)))
    for radius in (45, 37):
        canvas.drawCircle(200, 0, radius, stroke("#000000", 2, 0.5))
    for x, y in around(14, 41):
        canvas.drawCircle(200 + x, y, 3, fill("#0c0d0e", 0.9))
    turned(canvas, 200, 0, 15, COPPER, 0.6, rings=False)
    canvas.drawCircle(186, -18, 12, blurred("#ffffff", 6, 0.35))


def gear_grease(canvas):
    """Marine grease worked into the main gear's teeth."""
    canvas.drawPath(gear(46, 84, 76), stroke("#a9c8da", 5, 0.8))
    canvas.drawCircle(0, 0, 74, stroke("#dcecf6", 5, 0.35))


def handle_nut(canvas):
    path = skia.Path()
    for i, (x, y) in enumerate(around(6, 23, 30)):
        path.lineTo(x, y) if i else path.moveTo(x, y)
    path.close()
    canvas.drawPath(path, linear((-20, -20), (20, 20), "#ffffff", STEEL, "#5d5a57"))
    canvas.drawPath(path, stroke("#2b2622", 1.4, 0.8))
    turned(canvas, 0, 0, 17, STEEL, 0.5, rings=False)
    hollow(canvas, 0, 0, 10)


def lock_screw(canvas):
    turned(canvas, 0, 0, 8.5, STEEL, 0.6, rings=False)
    canvas.drawCircle(0, 0, 8.2, stroke("#221c18", 1, 0.8))
    canvas.drawLine(-5.6, -3, 5.6, 3, stroke("#1c1512", 2.4, 0.95))
