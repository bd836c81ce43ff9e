"""Frames of the episode, one after the other, straight from the stage."""

import skia

from . import bench, scenes
from .paint import SMOOTH, Scaled, sprite, stroke

WIDE, HIGH = 1280, 720


class Film:
    def __init__(self, stage):
        self.stage = stage
        self.surface = skia.Surface(WIDE, HIGH)
        self.sprites = {}
        self.back = self._bench()
        self.lamp = bench.lamp(WIDE, HIGH)
        self.before, self.still = None, None  # the last frame; (what lies still, its picture)

    def _bench(self):
        """Wood, mat, tin, rag and tub as one picture at two pixels a unit."""
        self.whole = skia.Rect(-bench.MARGIN, -bench.MARGIN, bench.WIDTH + bench.MARGIN, bench.HEIGHT + bench.MARGIN)
        surface = skia.Surface(round(self.whole.width() * 2), round(self.whole.height() * 2))
        canvas = surface.getCanvas()
        canvas.scale(2, 2)
        canvas.translate(bench.MARGIN, bench.MARGIN)
        canvas.drawImageRect(bench.wood(), self.whole, SMOOTH)
        for draw in (bench.mat, bench.tin, bench.rag, bench.tub):
            draw(canvas)
        return Scaled(surface.makeImageSnapshot(), 2.0)

    def sprite(self, name):
        if name not in self.sprites:
            half, draw = scenes.SPRITES[name]
            big = half > 900
            self.sprites[name] = sprite(half, draw, soft=16 if big else 7, sharp=1.5 if big else 3)
        return self.sprites[name]

    def picture(self, t):
        """The frame at t as a skia image."""
        return self._draw(self.stage.frame_at(t))

    def frames(self, rate):
        """Every frame as BGRA bytes; an unchanged one is not drawn again."""
        last, data = None, b""
        for i in range(int(self.stage.length * rate)):
            frame = self.stage.frame_at(i / rate)
            if frame != last:
                last, data = frame, self._draw(frame).tobytes()
            yield data

    def _draw(self, frame):
        things, seen, camera, jolt, blur, title, pulled = frame
        view = (camera, jolt, pulled)
        canvas = self.surface.getCanvas()
        if not (self.still and self.still[0] == view and things[: len(self.still[1])] == self.still[1]):
            self.still = None
            if self.before and (self.before[2], self.before[3], self.before[6]) == view:  # what did not move since the last frame
                count = next((i for i, (a, b) in enumerate(zip(things, self.before[0])) if a != b), min(len(things), len(self.before[0])))
                self._bench_view(canvas, view)
                self._things(canvas, view, things[:count])
                self.still = (view, things[:count], self.surface.makeImageSnapshot())
        self.before = frame
        if self.still:
            canvas.drawImage(self.still[2], 0, 0)
        else:
            self._bench_view(canvas, view)
        self._things(canvas, view, things[len(self.still[1]) if self.still else 0 :], seen)
        if blur > 0.2:
            image = self.surface.makeImageSnapshot()
            canvas.drawImage(image, 0, 0, SMOOTH, skia.Paint(ImageFilter=skia.ImageFilters.Blur(blur, blur, skia.TileMode.kClamp)))
        canvas.drawImage(self.lamp, 0, 0, skia.SamplingOptions(), skia.Paint(BlendMode=skia.BlendMode.kMultiply))
        if title:
            bench.title_card(canvas, WIDE, HIGH, title)
        return self.surface.makeImageSnapshot()

    def _look(self, canvas, view):
        (x, y, zoom, tilt), (dx, dy, jolt), _ = view
        scale = zoom * WIDE / bench.WIDTH
        canvas.translate(WIDE / 2, HIGH / 2)
        canvas.scale(scale, scale)
        canvas.rotate(tilt + jolt)
        canvas.translate(-x - dx, -y - dy)
        return scale

    def _bench_view(self, canvas, view):
        canvas.save()
        self.back.draw(canvas, self.whole, self._look(canvas, view))
        if view[2]:  # fishing line from the spool to the scale's hook
            canvas.drawLine(200, 332, bench.REEL[0], 332, stroke("#0b211d", 4, 0.4))
            canvas.drawLine(200, 328, bench.REEL[0], 328, stroke("#7fe0cd", 3))
        canvas.restore()

    def _things(self, canvas, view, things, seen=(None, None)):
        canvas.save()
        self._look(canvas, view)
        for _, face, x, y, turn, scale, lift, squash, alpha in things:
            self.sprite(face).place(canvas, x, y, turn, scale, lift, squash, alpha, face not in scenes.UNSHADED)
        for side, hand in zip("LR", seen):
            if hand:
                pose, x, y = hand
                self.sprite(f"{pose} {side}").place(canvas, x, y, lift=0.5)
        canvas.restore()
