"""The one error that reaches the person at the bench."""


class BenchError(Exception):
    """Something outside the program is wrong. `str()` is one clear line: where, what is wrong, what to do about it."""

    def __init__(self, what: str, where: object = "", what_to_do: str = ""):
        self.what, self.where, self.what_to_do = what, str(where), what_to_do
        super().__init__(what, self.where, what_to_do)

    def __str__(self) -> str:
        line = f"{self.where}: {self.what}" if self.where else self.what
        line += f". {self.what_to_do[:1].upper()}{self.what_to_do[1:]}" if self.what_to_do else ""
        # a hostile file name must not break the line or colour the terminal
        return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in line)
