"""What lies where at every second: the narration's times drive every part, tool, hand and the camera.

`Stage` holds the actors; `play` is the episode. A quote from the script finds its moment, so that a changed line
moves its picture along.
"""

import math
from dataclasses import dataclass, field

from . import bench, hands, reel
from .bench import CUPS, REEL, TUB

RX, RY = REEL
SPRITES = {  # name: (half size, drawing)
    **{f.__name__: (half, f) for half, f in (
        (300, reel.frame), (20, reel.shaft), (50, reel.click_tongue), (200, reel.spool_face), (190, reel.spool_side), (40, reel.bearing),
        (32, reel.shim), (122, reel.felt_washer), (122, reel.carbon_washer), (122, reel.smear), (128, reel.drag_plate), (40, reel.belleville),
        (235, reel.side_plate), (235, reel.side_plate_inside), (90, reel.main_gear), (92, reel.gear_grease), (205, reel.sand),
        (245, reel.lever), (42, reel.preset_knob), (255, reel.handle), (30, reel.handle_nut), (12, reel.lock_screw),
        (18, reel.screw_head), (34, reel.screw_lying), (46, reel.screw_lying_long), (315, bench.screwdriver), (312, bench.spanner),
        (255, bench.tweezers), (335, bench.toothbrush), (132, bench.oil_bottle), (132, bench.alcohol_bottle), (70, bench.grease_pot),
        (112, bench.mug), (175, bench.note), (205, bench.packet), (10, bench.drop), (170, bench.dial_scale), (80, bench.needle),
        (300, bench.cat_tail), (140, bench.tub_liquid),
    )},
    **{f"{f.__name__} R": (960, f) for f in (hands.pinch, hands.point, hands.cup)},
    **{f"{f.__name__} L": (960, hands.mirrored(f)) for f in (hands.pinch, hands.point, hands.cup)},
}
UNSHADED = {"smear", "gear_grease", "sand", "tub_liquid", "shaft"}


def ease(share):
    share = min(max(share, 0.0), 1.0)
    return share * share * (3 - 2 * share)


class Track:
    """One value over time: holds, and eases from one to the next."""

    def __init__(self, value):
        self.first, self.moves = value, []

    def go(self, start, end, value, shape=ease):
        self.moves.append((start, max(end, start + 1e-3), self.at(start), value, shape))
        self.moves.sort(key=lambda m: m[0])

    def at(self, t):
        value = self.first
        for start, end, old, new, shape in self.moves:
            if t < start:
                break
            value = new if t >= end or isinstance(new, str) else old + (new - old) * shape((t - start) / (end - start))
        return value


@dataclass
class Actor:
    """A thing on the bench."""

    face: Track
    x: Track
    y: Track
    z: Track
    turn: Track = field(default_factory=lambda: Track(0.0))
    scale: Track = field(default_factory=lambda: Track(1.0))
    lift: Track = field(default_factory=lambda: Track(0.0))
    squash: Track = field(default_factory=lambda: Track(1.0))
    alpha: Track = field(default_factory=lambda: Track(1.0))
    rides: list = field(default_factory=list)  # (start, end, other, dx, dy)

    def go(self, start, end, shape=ease, **values):
        for name, value in values.items():
            getattr(self, name).go(start, end, value, shape)

    def set(self, t, **values):
        self.go(t, t, **values)

    def ride(self, start, end, other, dx=0.0, dy=0.0):
        """Go wherever the other goes; keep its last place afterwards."""
        self.rides.append((start, end, other, dx, dy))
        x, y = other.place(end)
        self.set(end, x=x + dx * other.squash.at(end), y=y + dy)

    def rider(self, t):
        return next((r for r in self.rides if r[0] <= t < r[1]), None)

    def place(self, t):
        ride = self.rider(t)
        if ride:
            x, y = ride[2].place(t)
            return x + ride[3] * ride[2].squash.at(t), y + ride[4]
        return self.x.at(t), self.y.at(t)

    def state(self, t):
        """(z, face, x, y, turn, scale, lift, squash, alpha), rounded: equal states make equal pictures."""
        ride = self.rider(t)
        x, y = self.place(t)
        lift, squash = (ride[2].lift.at(t), ride[2].squash.at(t)) if ride else (self.lift.at(t), self.squash.at(t))
        z = max(self.z.at(t), ride[2].z.at(t) + 0.1) if ride else self.z.at(t)
        return (z, self.face.at(t), round(x, 1), round(y, 1), round(self.turn.at(t) % 360, 1), round(self.scale.at(t), 3),
                round(lift, 2), round(squash, 3), round(self.alpha.at(t), 2))


@dataclass
class Job:
    """A hand at work: where its grip is at any time between start and end."""

    start: float
    end: float
    pose: str
    grip: object  # time -> (x, y)


class Stage:
    def __init__(self, lines, times):
        self.lines, self.times = lines, times
        self.actors, self.jobs = {}, {"R": [], "L": []}
        self.camera = [Track(960.0), Track(540.0), Track(1.0), Track(0.0)]  # x, y, zoom, tilt in degrees
        self.soft, self.shaken, self.sounds = [], [], []
        self.title = Track(0.0)
        self.line_pull = Track(0.0)
        self.length = times[-1][1] + float(lines[-1].get("pause", 0)) + 0.35

    # when
    def said(self, quote):
        """The second at which the quote begins, judged by its share of the line's letters."""
        hits = [(line["say"].index(quote), i) for i, line in enumerate(self.lines) if quote in line["say"]]
        if len(hits) != 1:
            raise ValueError(f"{quote!r} stands in {len(hits)} lines; it must stand in exactly one")
        (at, i), = hits
        start, end = self.times[i]
        return start + (end - start) * at / len(self.lines[i]["say"])

    def over(self, quote):
        """The second at which the line with the quote, and its pause, are over."""
        i = next(i for i, line in enumerate(self.lines) if quote in line["say"])
        return self.times[i + 1][0] if i + 1 < len(self.lines) else self.length

    # who
    def add(self, name, x, y, z, face=None, turn=0.0, alpha=1.0, scale=1.0):
        actor = Actor(Track(face or name), Track(float(x)), Track(float(y)), Track(float(z)))
        actor.turn, actor.alpha, actor.scale = Track(float(turn)), Track(float(alpha)), Track(float(scale))
        self.actors[name] = actor
        return actor

    def __getitem__(self, name):
        return self.actors[name]

    # what happens
    def look(self, t, x, y, zoom, takes=0.8, tilt=0.0):
        for track, value in zip(self.camera, (x, y, zoom, tilt)):
            track.go(t, t + takes, float(value))

    def hold(self, name, start, end, hand="R", pose="pinch", dx=0.0, dy=0.0):
        actor = self[name]
        self.jobs[hand].append(Job(start, end, pose, lambda t: (actor.place(t)[0] + dx, actor.place(t)[1] + dy)))

    def trace(self, start, end, path, hand="R", pose="point"):
        self.jobs[hand].append(Job(start, end, pose, path))

    def carry(self, name, start, end, x, y, z=20, hand="R", pose="pinch", dx=0.0, dy=0.0, clink=0.0, **values):
        """A hand takes it, lifts it and lays it down elsewhere."""
        actor = self[name]
        if hand:
            self.hold(name, start - 0.12, end + 0.1, hand, pose, dx, dy)
        third = (end - start) / 3
        actor.set(start, z=60.0 + actor.z.at(start) / 100)
        actor.go(start, end, x=float(x), y=float(y), **values)
        actor.go(start, start + third, lift=1.0)
        actor.go(end - third, end, lift=0.0)
        actor.set(end, z=float(z))
        if clink:
            self.sounds.append((end, "clink", clink))

    def flip(self, name, start, end, face):
        """Turn it over on the way."""
        middle = (start + end) / 2
        self[name].go(start, middle, squash=0.03)
        self[name].set(middle, face=face)
        self[name].go(middle, end, squash=1.0)

    def use(self, name, start, end, stops, hand="R", angle=50.0, reach=190.0, pose="pinch", rest=None):
        """A hand fetches a tool, sets its tip to each stop (time, x, y) and puts it back."""
        actor = self[name]
        home = rest or (*actor.place(start), actor.turn.at(start))
        actor.set(start, z=70.0)
        turn = math.radians(angle)
        dx, dy = reach * math.cos(turn), reach * math.sin(turn)
        before = start
        for t, x, y in stops:
            actor.go(max(before, t - 0.7), t, x=float(x), y=float(y))
            before = t
        away = end - 0.6
        actor.go(start, stops[0][0], turn=float(angle), lift=0.55)
        actor.go(away, end, x=float(home[0]), y=float(home[1]), turn=float(home[2]), lift=0.0)
        actor.set(end, z=20.0)

        def grip(t):
            x, y = actor.place(t)
            a = math.radians(actor.turn.at(t))
            return x + reach * math.cos(a), y + reach * math.sin(a)
        self.jobs[hand].append(Job(start - 0.1, end + 0.1, pose, grip))
        return dx, dy

    # what is seen
    def hand_at(self, hand, t):
        """(pose, x, y) of a hand, or None while it is away."""
        jobs = sorted(self.jobs[hand], key=lambda j: j.start)
        rest = (1500.0, 1560.0) if hand == "R" else (60.0, 1560.0)
        last = None
        for job in jobs:
            if job.start <= t <= job.end:
                return (job.pose, *job.grip(t))
            if job.end < t and (last is None or job.end >= last.end):
                last = job
        following = next((j for j in jobs if j.start > t), None)
        if last and following and following.start - last.end < 1.7:
            share = ease((t - last.end) / (following.start - last.end))
            (x0, y0), (x1, y1) = last.grip(last.end), following.grip(following.start)
            pose = last.pose if share < 0.5 else following.pose
            return pose, x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
        for job, away in ((last, t - last.end if last else 9), (following, following.start - t if following else 9)):
            if job and away < 0.8:
                x, y = job.grip(job.end if job is last else job.start)
                share = ease(away / 0.8)
                return job.pose, x + (rest[0] - x) * share, y + (rest[1] - y) * share
        return None

    def blur_at(self, t):
        """How soft the picture is: the blur's sigma in pixels."""
        return max((depth * min(1.0, (t - start) / 0.25, (end - t) / 0.35) for start, end, depth in self.soft if start < t < end), default=0.0)

    def jolt_at(self, t):
        """(dx, dy, tilt) of the shaken camera, in bench units and degrees."""
        for start, end, size in self.shaken:
            if start < t < end:
                grown = size * min(1.0, (t - start) / 0.15, (end - t) / 0.3)
                return (grown * (math.sin(23 * t) + 0.7 * math.sin(37.3 * t + 1)), grown * (math.sin(29.7 * t + 2) + 0.6 * math.sin(41.1 * t)),
                        grown * 0.05 * math.sin(19 * t))
        return 0.0, 0.0, 0.0

    def frame_at(self, t):
        """Everything that the picture at t depends on."""
        things = sorted((a.state(t) for a in self.actors.values() if a.alpha.at(t) > 0.01), key=lambda s: s[0])
        seen = tuple(tuple(round(v, 1) if isinstance(v, float) else v for v in h) if h else None
                     for h in (self.hand_at("L", t), self.hand_at("R", t)))
        camera = tuple(round(track.at(t), 3) for track in self.camera)
        return (tuple(things), seen, camera, tuple(round(v, 2) for v in self.jolt_at(t)), round(self.blur_at(t), 2),
                round(self.title.at(t), 2), round(self.line_pull.at(t), 2))

    def steadiness(self, step=0.1):
        """Sharp, soft and shaky stretches as {"start", "end", "is"}; sharp is sharp and still for 0.8 seconds or more."""
        def kind(t):
            if any(s <= t < e for s, e, _ in self.shaken):
                return "shaky"
            if any(s <= t < e for s, e, _ in self.soft):
                return "soft"
            moving = any(abs(track.at(t + step) - track.at(t)) > limit for track, limit in zip(self.camera, (1.0, 1.0, 0.004, 0.05)))
            return "moving" if moving else "sharp"
        out, count = [], int(self.length / step)
        for i in range(count):
            now = kind(i * step)
            if out and out[-1]["is"] == now:
                out[-1]["end"] = round((i + 1) * step, 1)
            else:
                out.append({"start": round(i * step, 1), "end": round((i + 1) * step, 1), "is": now})
        return [s for s in out if s["is"] != "moving" and (s["is"] != "sharp" or s["end"] - s["start"] >= 0.8)]


def set_out(stage):
    """The bench before anything happens."""
    add = stage.add
    add("frame", RX, RY, 0)
    add("click_tongue", RX + 96, RY - 100, 0.4, turn=35)
    add("sand below", RX, RY, 0.5, face="sand", turn=140)
    add("shim", RX, RY, 1)
    add("spool", RX, RY, 2, face="spool_face")
    add("bearing", RX, RY, 2.2)
    add("felt_washer", RX, RY, 4)
    add("drag_plate", RX, RY, 5)
    add("shaft", RX, RY, 5.5)
    for i in range(4):
        add(f"belleville {i}", RX + i * 1.6, RY - i * 2.4, 6 + i / 10, face="belleville")
    add("sand", RX, RY, 6.6)
    add("side_plate", RX, RY, 7)
    add("main_gear", RX - 52, RY + 98, 7.2, alpha=0)
    add("gear_grease", RX, RY, 7.3, alpha=0)
    for i, (x, y) in enumerate(reel.SCREWS):
        add(f"screw {i}", RX + x, RY + y, 8 + i / 100, face="screw_head", turn=i * 47)
    add("lever", RX, RY, 9, turn=198)
    add("preset_knob", RX, RY, 10)
    sx, sy = RX + reel.SHAFT[0], RY + reel.SHAFT[1]
    add("handle", sx, sy, 11, turn=24)
    add("handle_nut", sx, sy, 12)
    add("lock_screw", sx + 13, sy + 5, 13, turn=20)
    add("mug", 110, 120, 3, turn=-40)
    add("screwdriver", 455, 1040, 3)
    add("spanner", 70, 440, 3, turn=2)
    add("tweezers", 70, 505, 3, turn=-2)
    add("toothbrush", 50, 560, 3, turn=1)
    add("oil_bottle", 1310, 596, 3, scale=0.9)
    add("alcohol_bottle", 1600, 596, 3, scale=0.9)
    add("grease_pot", 1130, 600, 3)
    add("tub_liquid", *TUB, 30)
    add("drop", 0, 0, 72, alpha=0)
    add("carbon_washer", 2200, 300, 4, alpha=0)
    add("smear", 2200, 300, 4.1, alpha=0)
    add("packet", 2200, 300, 5, alpha=0)
    add("note", 900, -260, 40)
    add("dial_scale", -320, 330, 15)
    add("needle", -320, 330, 16, turn=bench.dial_angle(0))
    add("cat_tail", 2250, 120, 75)


def knob_of(handle):
    """Where the hand holds the handle's knob."""
    def grip(t):
        x, y = handle.place(t)
        a = math.radians(handle.turn.at(t))
        return x + 200 * math.cos(a), y + 200 * math.sin(a)
    return grip


def crank(stage, start, end, turns, jerky=False):
    handle = stage["handle"]
    if jerky:
        count = 7
        for i in range(count):
            at = start + (end - start) * i / count
            handle.go(at + 0.18, at + (end - start) / count, turn=24 + turns * 360 * (i + 1) / count)
    else:
        handle.go(start, end, turn=handle.turn.at(start) + turns * 360)
    stage.trace(start - 0.2, end + 0.2, knob_of(handle), pose="pinch")
    for i in range(int((end - start) * (5 if jerky else 9))):
        stage.sounds.append((start + i / (5 if jerky else 9), "tick", 0.5))


def play(stage):
    """The episode."""
    set_out(stage)
    opening(stage)
    strip(stage)
    inspect(stage)
    clean(stage)
    lubricate(stage)
    rebuild(stage)
    set_drag(stage)
    close(stage)
    return stage


def opening(s):
    s.title.go(0.0, 0.6, 1.0)
    s.title.go(4.3, 5.0, 0.0)
    s.look(0.0, 930, 520, 1.08, 5.0)
    jerk = s.said("who says the drag's")
    s.look(s.said("This one came in"), 860, 520, 1.5, 1.6)
    s.soft.append((s.said("This one came in") + 0.4, s.said("This one came in") + 2.2, 6.0))
    crank(s, jerk, s.said("So what have we got") - 0.6, 1.0, jerky=True)
    s.look(s.said("It's a Brindock") - 0.3, 742, 560, 2.3)
    sister = s.said("The Tamsel sixteen")
    s.look(sister - 0.2, 860, 400, 1.4)
    s.carry("note", sister + 0.4, sister + 1.5, 985, 210, z=40, hand="L", dx=-120, dy=70)
    foot = s.said("A letter stamped")
    s.carry("note", foot - 0.3, foot + 0.6, 900, -300, z=40, hand="L", dx=-120, dy=70)
    s.look(foot, 770, 690, 2.1)
    s.soft.append((foot + 0.2, foot + 1.5, 4.5))
    s.trace(foot + 0.9, s.over("A letter stamped") - 0.2, lambda t: (RX + 30 + 34 * math.sin(2.1 * t), RY + 274))


def strip(s):
    start, done = s.said("Right, handle first"), s.over("Right, handle first")
    sx, sy = RX + reel.SHAFT[0], RY + reel.SHAFT[1]
    s.look(start - 0.2, 900, 520, 1.45)
    lock = s.said("out comes the little lock screw")
    s.use("screwdriver", lock - 1.0, lock + 1.5, [(lock, sx + 13, sy + 5), (lock + 0.8, sx + 13, sy + 5)])
    s["lock_screw"].go(lock, lock + 0.8, turn=20 - 540)
    s.carry("lock_screw", lock + 1.9, lock + 2.7, CUPS[0][0] - 24, CUPS[0][1] + 22, clink=0.5)
    nut = s.said("ten mil spanner")
    s["spanner"].set(nut - 0.2, z=70.0)
    s.use("spanner", nut - 0.1, done - 1.2, [(nut + 0.7, sx, sy), (done - 1.9, sx, sy)], angle=35, reach=240)
    s["spanner"].go(nut + 0.9, done - 1.9, turn=-25.0)
    s["handle_nut"].go(nut + 0.9, done - 1.9, turn=-60.0)
    s.sounds += [(nut + 0.9 + 0.25 * i, "tick", 0.8) for i in range(4)]
    s.carry("handle_nut", done - 0.9, done - 0.15, CUPS[0][0] + 20, CUPS[0][1] - 8, clink=0.9)

    off = s.said("the handle lifts straight off")
    s.look(off - 0.2, 640, 500, 1.25)
    s.carry("handle", off, off + 1.6, 100, 255, turn=-356.0 + 720, hand="R", dx=40)
    knob, lever = s.said("unscrew the preset knob"), s.said("lift the lever off")
    s.look(knob - 0.6, 800, 440, 1.5)
    s["preset_knob"].go(knob, knob + 1.3, turn=-700.0)
    s.hold("preset_knob", knob - 0.1, knob + 1.3)
    s.carry("preset_knob", knob + 1.4, lever + 0.2, *CUPS[3], clink=0.8)
    s.carry("lever", lever + 0.9, lever + 2.3, 110, 345, turn=363.0, hand="L", dx=0, dy=0)
    s.shaken.append((lever + 2.4, s.over("unscrew the preset knob") + 0.2, 7.0))

    count = s.said("Side plate. Five")
    s.look(count, RX + 20, RY + 20, 1.75)
    six = s.said("no, six. Six")
    order = [0, 1, 2, 4, 5, 3]
    holes = [(RX + reel.SCREWS[i][0], RY + reel.SCREWS[i][1]) for i in order]
    leaps = [count + 0.8 + (six - count - 0.5) * i / 5 for i in range(5)] + [s.said("there's one hiding")]

    def tour(t):
        x, y = holes[0]
        for at, (nx, ny) in zip(leaps, holes):
            share = ease((t - at + 0.3) / 0.35)
            x, y = x + (nx - x) * share, y + (ny - y) * share
        return x + 4, y + 6
    s.trace(count + 0.4, s.over("Side plate. Five") - 0.3, tour)

    back, done = s.said("Number one Phillips"), s.over("back them all out")
    each = (done - 2.6 - back) / 6
    stops = []
    for n, i in enumerate([0, 3, 1, 4, 2, 5]):
        x, y = RX + reel.SCREWS[i][0], RY + reel.SCREWS[i][1]
        at = back + 0.4 + n * each
        stops += [(at, x, y), (at + each - 0.45, x, y)]
        s[f"screw {i}"].go(at, at + each - 0.45, turn=-720.0, scale=1.12, lift=0.25)
        s.sounds += [(at + k * 0.16, "tick", 0.45) for k in range(4)]
    s.use("screwdriver", back - 0.7, done - 1.9, stops)
    for n, i in enumerate([0, 1, 2, 4, 5]):
        x, y = CUPS[1][0] + (-26, 24, 2, -22, 28)[n], CUPS[1][1] + (-24, -18, 4, 28, 26)[n]
        first = n == 0
        s.carry(f"screw {i}", done - 1.3, done - 0.2 + n * 0.06, x, y, hand="R" if first else None, pose="cup", dy=40, clink=0.7)
        s[f"screw {i}"].set(done - 0.8, face="screw_lying", turn=(20, 110, 65, 160, 310)[n], scale=1.0)
    long = s.said("The one by the foot is the long")
    s.look(long, 930, 470, 1.3)
    s.carry(f"screw {reel.LONG}", long + 0.9, long + 2.2, *CUPS[2], clink=0.9)
    s["screw 3"].set(long + 1.3, face="screw_lying_long", turn=28, scale=1.0)

    plate = s.said("the side plate comes away")
    s.look(plate - 0.3, 640, 540, 1.15)
    s["main_gear"].set(plate + 1.1, alpha=1.0)
    s.carry("side_plate", plate + 0.2, plate + 2.0, 215, 805, z=18, hand="L", pose="cup", dx=-60)
    s.flip("side_plate", plate + 0.3, plate + 1.9, "side_plate_inside")
    s["main_gear"].ride(0, plate + 2.0, s["side_plate"], -reel.SHAFT[0], reel.SHAFT[1])
    s["main_gear"].set(plate + 2.0, z=18.2)

    beach = s.said("Oh, hello")
    s.look(beach - 0.2, RX, RY, 2.1)
    s.shaken.append((beach - 0.1, beach + 0.9, 5.0))

    stack = s.said("Off the shaft come")
    s.look(stack - 0.1, 960, 430, 1.3)
    spots = [(-28, -26), (28, -20), (-22, 28), (32, 30)]
    for pair, at in enumerate((s.said("four of them"), s.said("in pairs, cup to cup"))):
        for k in range(2):
            i = 3 - pair * 2 - k
            x, y = CUPS[4][0] + spots[pair * 2 + k][0], CUPS[4][1] + spots[pair * 2 + k][1]
            s.carry(f"belleville {i}", at - 0.1, at + 1.1, x, y, z=20 + (k == 0) / 10, hand="R" if k == 0 else None, clink=0.6)
    plate = s.said("Drag plate next")
    s.look(plate - 0.2, 1120, 600, 1.1)
    s.carry("drag_plate", plate + 0.5, plate + 1.7, 1600, 750, dx=60, dy=40)
    s["sand"].go(plate - 0.5, plate + 1.0, alpha=0.0)
    s.look(plate + 2.2, RX + 40, RY, 1.7)
    peel = s.said("Peel that off")
    edge = (RX + 66, RY + 48)
    s.use("tweezers", peel - 0.6, peel + 2.6, [(peel + 0.2, *edge), (peel + 0.6, *edge), (peel + 1.7, 1790 + 66, 760 + 48)], angle=38, reach=215)
    s.carry("felt_washer", peel + 0.6, peel + 1.7, 1790, 760, hand=None)
    s.look(peel + 0.6, 1180, 600, 1.05)

    out = s.said("Then the spool comes out")
    s.look(out, 1150, 640, 1.1)
    s["bearing"].set(out + 0.9, alpha=0.0)
    s.carry("spool", out + 0.3, out + 1.8, 1690, 920, turn=90.0, scale=0.82, pose="cup", dy=20)
    s.flip("spool", out + 0.5, out + 1.6, "spool_side")
    s.look(out + 2.0, 970, 420, 1.35)
    shim = s.said("That goes in the tin")
    s.carry("shim", shim - 0.3, shim + 0.9, CUPS[5][0] - 22, CUPS[5][1] - 18, clink=0.8)

    cat = s.said("That noise is the cat")
    s.shaken.append((cat - 0.6, cat + 0.8, 9.0))
    s.sounds.append((cat - 0.55, "thud", 1.0))
    s.look(cat, 1250, 400, 1.12)
    tail = s["cat_tail"]
    tail.go(cat, cat + 1.1, x=1830.0)
    for i in range(5):
        tail.go(cat + 0.6 + i * 0.5, cat + 1.1 + i * 0.5, turn=(14.0, -12.0)[i % 2])
    tail.go(cat + 2.9, cat + 4.0, x=2300.0)
    push = s.said("Push the bearing out")
    s.look(push - 0.2, 1560, 720, 1.5)
    s.soft.append((push, push + 1.1, 5.0))
    s["bearing"].set(push + 0.8, x=1690.0, y=830.0, z=24.0, alpha=1.0, scale=0.9)
    s.hold("spool", push + 0.2, push + 2.2, hand="L", pose="cup", dx=-60, dy=60)
    s.carry("bearing", push + 1.0, push + 2.4, CUPS[5][0] + 26, CUPS[5][1] + 22, clink=1.0, scale=1.0)


def inspect(s):
    look = s.said("So let's look at that drag washer")
    s.look(look - 0.2, 1700, 720, 2.0)
    s.soft.append((look + 0.5, look + 1.9, 5.0))
    washer = s["felt_washer"]
    washer.go(look + 0.6, look + 1.4, scale=1.22, lift=0.7)
    washer.go(look + 1.4, look + 5.0, turn=70.0)
    s.hold("felt_washer", look + 0.4, look + 5.4, dx=100, dy=86)
    washer.go(look + 5.0, look + 5.6, scale=1.0, lift=0.0)
    grit = s.said("The bearing's gritty")
    bearing = s["bearing"]
    s.look(grit - 0.3, 1600, 470, 2.5)
    bearing.go(grit + 0.1, grit + 0.8, x=1570.0, y=470.0, scale=2.1, lift=0.8)
    bearing.set(grit + 0.1, z=60.0)
    bearing.go(grit + 0.8, grit + 2.7, turn=140.0)
    s.hold("bearing", grit, grit + 3.6, dx=62, dy=44)
    bearing.go(grit + 2.8, grit + 3.5, x=CUPS[5][0] + 26.0, y=CUPS[5][1] + 22.0, scale=1.0, lift=0.0)
    bearing.set(grit + 3.5, z=20.0)
    s.shaken.append((grit + 2.9, grit + 3.6, 4.0))
    s.sounds += [(grit + 0.9 + 0.13 * i, "tick", 0.3) for i in range(14)]
    tongue = s.said("The click tongue's worn")
    s.look(tongue - 0.4, RX + 90, RY - 60, 2.5)
    s.soft.append((tongue, tongue + 0.9, 4.0))
    s.trace(tongue + 0.7, s.over("The click tongue's worn") - 0.5, lambda t: (RX + 104 + 3 * math.sin(5 * t), RY - 90))
    s["click_tongue"].go(tongue + 1.4, tongue + 1.8, turn=18.0)
    s["click_tongue"].go(tongue + 1.8, tongue + 2.1, turn=35.0)
    s.sounds.append((tongue + 1.8, "tick", 1.0))


def clean(s):
    start, done = s.said("Drag plate and main gear go"), s.over("Drag plate and main gear go")
    s["sand below"].go(start + 1.2, start + 1.4, alpha=0.0)
    s.look(start - 0.3, 1150, 760, 1.15)
    s.carry("drag_plate", start + 0.3, start + 1.3, TUB[0] + 4, TUB[1] + 4, z=21, dx=60, dy=40)
    s.sounds.append((start + 1.3, "splash", 0.8))
    s.carry("main_gear", start + 0.9, start + 2.4, TUB[0] - 34, TUB[1] - 30, z=22, hand="L")
    s.sounds.append((start + 2.4, "splash", 0.6))
    s.look(start + 2.0, TUB[0] + 20, TUB[1] + 30, 1.9)
    scrub = s.said("Scrub the gear teeth")
    hub = (TUB[0] - 34, TUB[1] - 30)
    stops = [(scrub + 0.4 + 0.22 * i, hub[0] + 66 * math.cos(0.35 * i) + (12 if i % 2 else -12), hub[1] + 66 * math.sin(0.35 * i)) for i in range(int((done - scrub - 1.4) / 0.22))]
    s.use("toothbrush", scrub - 0.5, done - 0.2, stops, angle=35, reach=215)
    s.sounds += [(t, "scrub", 0.6) for t, _, _ in stops]
    s.soft.append((scrub + 1.0, scrub + 2.3, 4.5))

    dont = s.said("Don't ever put the drag washer")
    s.look(dont - 0.2, 1500, 760, 1.4)
    s.carry("felt_washer", dont + 0.3, dont + 1.4, 1500, 740, dx=90, dy=70)
    s.carry("felt_washer", dont + 2.2, s.over("Don't ever put the drag washer") - 0.2, 1835, 340, dx=90, dy=70)

    flush, done = s.said("Flush the bearing"), s.over("Flush the bearing")
    s.look(flush - 0.2, 1560, 660, 1.9)
    s.carry("bearing", flush - 0.1, flush + 0.8, 1580, 760, hand="L")
    bottle = s["alcohol_bottle"]
    bottle.set(flush + 0.9, z=70.0)
    bottle.go(flush + 0.9, flush + 1.7, x=1580 + 118 * math.cos(math.radians(30)), y=752 - 118 * math.sin(math.radians(30)), turn=-30.0, lift=0.7)
    s.hold("alcohol_bottle", flush + 0.8, flush + 3.6, dx=26, dy=20)
    bottle.go(flush + 2.8, flush + 3.5, x=1600.0, y=596.0, turn=0.0, lift=0.0)
    bottle.set(flush + 3.5, z=3.0)
    drip(s, flush + 1.8, 3, 1580, 760)
    s["bearing"].go(flush + 2.0, flush + 5.0, turn=500.0)
    s.shaken.append((done - 1.4, done - 0.2, 6.0))


def drip(s, start, count, x, y):
    drop = s["drop"]
    for i in range(count):
        at = start + i * 0.4
        drop.set(at, x=float(x), y=y - 12.0, alpha=1.0, scale=0.5)
        drop.go(at, at + 0.16, scale=1.1)
        drop.go(at + 0.16, at + 0.32, y=float(y), scale=0.5)
        drop.set(at + 0.33, alpha=0.0)
        s.sounds.append((at + 0.3, "drip", 0.5))


def lubricate(s):
    new = s.said("The new drag washer is carbon")
    # while nobody looks, the clean parts come out of the tub
    s["main_gear"].set(new + 0.5, x=215 - 52.0, y=805 + 98.0, z=18.2)
    s["drag_plate"].set(new + 0.5, x=1790.0, y=745.0, z=20.0)
    washer, packet, smear = s["carbon_washer"], s["packet"], s["smear"]
    s.look(new - 0.3, 800, 760, 1.55)
    packet.set(new - 0.1, x=1000.0, y=1400.0, alpha=1.0, z=62.0)
    washer.set(new - 0.1, alpha=1.0)
    s.carry("packet", new + 0.2, new + 1.4, 860, 830, z=44, dx=100, dy=120)
    washer.ride(new - 0.1, new + 3.6, packet, 0, -4)
    washer.set(new + 3.6, z=43.0)
    number = s.said("Part number, forty")
    s.look(number - 0.6, 860, 760, 2.3)
    end = s.over("Part number, forty")
    s.look(end - 0.5, 880, 830, 1.7)
    s.carry("packet", end - 0.4, end + 0.6, 1100, 1500, z=44, hand="L", dx=-100, dy=100)
    thin = s.said("It gets a thin smear")
    washer.go(thin, thin + 0.3, z=20.0)
    smear.ride(0, s.said("Drag washer on,"), washer)
    smear.set(thin, z=20.1)
    done = s.over("It gets a thin smear")

    def wipe(t):
        if t < thin + 0.9:
            share = ease((t - thin) / 0.9)
            return 1130 + (860 + 80 - 1130) * share, 600 + (826 - 600) * share
        a = (t - thin - 0.9) * 3.4
        return 860 + 80 * math.cos(a), 826 + 80 * math.sin(a)
    s.trace(thin - 0.2, done - 0.6, wipe)
    smear.go(thin + 1.0, done - 1.2, alpha=1.0)
    s.soft.append((thin + 0.2, thin + 1.6, 4.0))

    oil = s.said("One drop of oil")
    s.look(oil - 0.4, 1560, 690, 2.0)
    bottle = s["oil_bottle"]
    bottle.set(oil - 0.2, z=70.0)
    bottle.go(oil - 0.2, oil + 0.6, x=1580 + 118 * math.cos(math.radians(30)), y=752 - 118 * math.sin(math.radians(30)), turn=-30.0, lift=0.7)
    s.hold("oil_bottle", oil - 0.3, oil + 2.3, dx=26, dy=20)
    drip(s, oil + 0.7, 1, 1580, 760)
    bottle.go(oil + 1.6, oil + 2.2, x=1310.0, y=596.0, turn=0.0, lift=0.0)
    bottle.set(oil + 2.2, z=3.0)
    grease, done = s.said("and a bit of marine grease"), s.over("and a bit of marine grease")
    s.look(grease - 0.2, 250, 790, 1.7)
    s["gear_grease"].ride(0, s.said("Side plate on,") + 3, s["main_gear"])
    s["gear_grease"].set(grease, z=18.3)
    s["gear_grease"].go(grease + 0.9, done - 0.8, alpha=1.0)
    s.trace(grease + 0.4, done - 0.4, lambda t: (163 + 78 * math.cos(3 * t), 903 + 78 * math.sin(3 * t)), hand="R")


def rebuild(s):
    start, done = s.said("Okay, back together"), s.over("Okay, back together")
    s.look(start - 0.3, 1240, 640, 1.1)
    bearing, spool = s.said("Bearing in,"), s.said("spool in, and give")
    s.carry("bearing", bearing - 0.6, bearing + 0.5, 1690, 835, z=24, scale=0.9)
    s["bearing"].set(bearing + 0.6, alpha=0.0)
    s.carry("spool", spool, spool + 1.3, RX, RY, z=2, turn=0.0, scale=1.0, pose="cup", dy=20)
    s.flip("spool", spool + 0.1, spool + 1.1, "spool_face")
    s["bearing"].set(spool + 1.3, x=float(RX), y=float(RY), z=2.2, alpha=1.0, scale=1.0)
    s.look(spool + 1.1, RX + 30, RY + 30, 1.7)
    spin = spool + 1.6
    s["spool"].go(spin + 0.3, done + 0.5, shape=lambda x: 1 - (1 - min(x, 1)) ** 2.2, turn=1500.0)
    s.trace(spin - 0.2, spin + 0.6, lambda t: (RX + 150 + 60 * max(0.0, t - spin), RY + 70 - 230 * max(0.0, t - spin)), pose="point")
    s.sounds += [(spin + 0.3 + 0.05 * i * (1 + i / 45), "tick", 0.35) for i in range(36)]

    washer, plate = s.said("Drag washer on,"), s.said("then the drag plate goes on")
    s.look(washer - 0.2, 1080, 640, 1.1)
    s.carry("carbon_washer", washer, washer + 1.0, RX, RY, z=4, dx=84, dy=70)
    s["smear"].ride(washer, s.length, s["carbon_washer"])
    s["smear"].set(washer + 1.0, z=4.1)
    s.carry("drag_plate", plate, plate + 1.2, RX, RY, z=5, dx=70, dy=60)
    s.look(plate + 1.0, RX + 120, RY, 1.5)
    cups = s.said("Four bellevilles on the shaft")
    s.look(cups - 0.2, 960, 430, 1.3)
    for pair in range(2):
        at = cups + 0.3 + pair * 1.5
        for k in range(2):
            i = pair * 2 + k
            s.carry(f"belleville {i}", at, at + 1.1, RX + i * 1.6, RY - i * 2.4, z=6 + i / 10, hand="R" if k == 0 else None)
    s.look(cups + 3.4, RX, RY, 2.3)
    s.soft.append((cups + 3.5, cups + 4.9, 4.5))

    plate, done = s.said("Side plate on,"), s.over("Side plate on,")
    s.look(plate - 0.3, 760, 540, 1.15)
    s["main_gear"].ride(plate - 0.1, plate + 1.7, s["side_plate"], -reel.SHAFT[0], reel.SHAFT[1])
    s.carry("side_plate", plate + 0.1, plate + 1.7, RX, RY, z=7, hand="L", pose="cup", dx=-60)
    s.flip("side_plate", plate + 0.1, plate + 1.6, "side_plate")
    s["main_gear"].set(plate + 0.85, alpha=0.0)
    s["gear_grease"].set(plate + 0.85, alpha=0.0)
    screws, long = s.said("then all six screws"), s.said("the long one goes by the foot")
    for n, i in enumerate([0, 1, 2, 4, 5]):
        x, y = RX + reel.SCREWS[i][0], RY + reel.SCREWS[i][1]
        begin = max(screws, plate + 1.8) + n * 0.28
        s.carry(f"screw {i}", begin, begin + 0.9, x, y, z=8 + i / 100, hand="R" if n == 0 else None)
        if n == 4:
            s.hold(f"screw {i}", begin + 0.5, begin + 1.0)
        s[f"screw {i}"].set(begin + 0.6, face="screw_head", scale=1.06)
    begin = max(long, plate + 4.2)
    s.carry("screw 3", begin, begin + 1.1, RX + reel.SCREWS[3][0], RY + reel.SCREWS[3][1], z=8.03)
    s["screw 3"].set(begin + 0.7, face="screw_head", scale=1.06)
    s.look(begin + 0.4, RX + 40, RY + 60, 1.6)
    snug, done = s.said("Tighten them till"), s.over("Tighten them till")
    each = (done - snug - 1.0) / 6
    stops = []
    for n, i in enumerate([0, 3, 1, 4, 2, 5]):
        at = snug + 0.4 + n * each
        x, y = RX + reel.SCREWS[i][0], RY + reel.SCREWS[i][1]
        stops += [(at, x, y), (at + each - 0.5, x, y)]
        s[f"screw {i}"].go(at, at + each - 0.5, turn=s[f"screw {i}"].turn.at(at) + 300, scale=1.0)
        s.sounds += [(at + k * 0.2, "tick", 0.45) for k in range(3)]
    s.use("screwdriver", snug - 0.7, done + 0.2, stops)

    lever, knob, handle, nut, lock = (s.said(q) for q in ("Lever on,", "preset knob on.", "Then the handle,", "the nut, and the lock", "and the lock screw."))
    end = s.over("Lever on,")
    s.look(lever - 0.1, 760, 470, 1.2)
    s.carry("lever", lever + 0.1, lever + 1.1, RX, RY, z=9, turn=198.0, hand="L")
    s.carry("preset_knob", knob, knob + 0.9, RX, RY, z=10, hand="R")
    s["preset_knob"].go(knob + 1.0, knob + 1.8, turn=0.0)
    sx, sy = RX + reel.SHAFT[0], RY + reel.SHAFT[1]
    s.carry("handle", handle + 0.1, handle + 1.1, sx, sy, z=11, turn=24.0, hand="L", dx=40)
    nut = max(nut, handle + 1.2)
    s.carry("handle_nut", nut, nut + 0.8, sx, sy, z=12, turn=0.0)
    lock = max(lock, nut + 1.2)
    s.carry("lock_screw", lock, lock + 0.8, sx + 13, sy + 5, z=13, turn=20.0)
    s.look(lock + 0.4, RX + 60, RY + 40, 1.7)
    s.soft.append((end - 1.1, end - 0.1, 4.0))


def set_drag(s):
    start = s.said("Now hook the line")
    lever = s.said("with the lever up at strike")
    dial, needle = s["dial_scale"], s["needle"]
    s.look(start - 0.2, 560, 440, 1.3)
    s.carry("dial_scale", start, start + 1.3, 210, 330, z=15, hand="L", dx=-80, dy=80)
    needle.ride(0, s.length, dial)
    s.line_pull.go(start + 1.4, start + 1.6, 1.0)
    swing(s, lever, 276.0)
    pull(s, s.over("Now hook the line") - 1.9, 1.6, 3.5, jerks=2)
    back, knob = s.said("So, lever back to free"), s.said("and half a turn in")
    s.look(back - 0.2, RX + 20, RY - 20, 1.7)
    needle.go(back - 0.3, back + 0.2, turn=bench.dial_angle(0))
    swing(s, back + 0.2, 198.0)
    s["preset_knob"].go(knob + 0.5, knob + 1.7, turn=180.0)
    s.hold("preset_knob", knob + 0.3, knob + 1.9)
    s.sounds += [(knob + 0.6 + 0.15 * i, "tick", 0.4) for i in range(7)]
    never = s.said("Never turn that knob")
    s.trace(never + 0.2, s.over("Never turn that knob") - 0.3, lambda t: (RX + 44 + 9 * math.sin(9 * t), RY + 34))
    again = s.said("And again. Four")
    s.look(again - 0.6, 560, 440, 1.3)
    swing(s, again - 0.3, 276.0)
    pull(s, again + 0.9, s.over("And again. Four") - again - 1.2, 4.0)
    s.shaken.append((s.over("And again. Four") - 1.2, s.over("And again. Four") - 0.1, 4.0))


def swing(s, start, angle):
    """A hand swings the drag lever."""
    lever = s["lever"]
    lever.go(start, start + 0.8, turn=angle)

    def tip(t):
        a = math.radians(lever.turn.at(t))
        return RX + 212 * math.cos(a), RY + 212 * math.sin(a)
    s.trace(start - 0.3, start + 1.0, tip, pose="pinch")
    s.sounds += [(start + 0.08 * i, "tick", 0.4) for i in range(10)]


def pull(s, start, takes, pounds, jerks=0):
    """The scale is drawn away and its needle climbs."""
    dial, needle = s["dial_scale"], s["needle"]
    dial.go(start, start + takes * 0.8, x=dial.x.at(start) - 34)
    s.hold("dial_scale", start - 0.2, start + takes, hand="L", dx=-80, dy=80)
    if jerks:
        for i in range(jerks):
            at = start + takes * i / (jerks + 1)
            needle.go(at, at + 0.25, turn=bench.dial_angle(pounds + 0.5))
            needle.go(at + 0.25, at + 0.45, turn=bench.dial_angle(pounds - 0.7))
        needle.go(start + takes * jerks / (jerks + 1), start + takes, turn=bench.dial_angle(pounds))
    else:
        needle.go(start, start + 0.7, turn=bench.dial_angle(pounds))
    s.sounds += [(start + 0.07 * i, "tick", 0.3) for i in range(int(takes / 0.07))]


def close(s):
    start = s.said("So that's Perrin sorted")
    s.line_pull.go(start - 0.2, start, 0.0)
    s.carry("dial_scale", start, start + 1.0, -340, 330, hand="L", dx=-80, dy=80)
    s.look(start + 0.2, 900, 510, 1.15, 1.6)
    tail = s["cat_tail"]
    cat = s.said("and the cat wants paying")
    tail.go(cat, cat + 1.0, x=1830.0)
    for i in range(9):
        tail.go(cat + 0.5 + i * 0.6, cat + 1.1 + i * 0.6, turn=(14.0, -12.0)[i % 2])
    last = s.said("Next week it's an old fly reel")
    crank(s, last + 0.4, last + 2.6, 2.0)
    thanks = s.said("Thanks for watching")
    s.look(thanks - 0.2, 930, 520, 1.0, 4.0)
    s.title.go(s.length - 2.6, s.length - 1.9, 1.0)
