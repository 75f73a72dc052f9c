"""Counts and prints what passed, failed and was skipped."""


class Report:
    """One line per check; a skipped check says why."""

    def __init__(self):
        self.passed = self.failed = self.skipped = 0

    def check(self, name, ok, detail=""):
        """Counts one check and prints its line with the figures."""
        if ok:
            self.passed += 1
        else:
            self.failed += 1
        print(f"{'pass' if ok else 'FAIL'}  {name}{': ' + detail if detail else ''}", flush=True)

    def equal(self, name, found, expected):
        """Passes where both are equal."""
        self.check(name, found == expected, f"{found}" if found == expected else f"found {found}, expected {expected}")

    def near(self, name, found, expected, tolerance):
        """Passes within an absolute tolerance."""
        self.check(name, abs(found - expected) <= tolerance, f"{found:.5g}, expected {expected:.5g} +- {tolerance:.2g}")

    def skip(self, name, why):
        """Counts a check that could not be made."""
        self.skipped += 1
        print(f"skip  {name}: {why}", flush=True)

    def close(self):
        """Prints the closing line; True if nothing failed."""
        if self.skipped:
            print(f"{self.skipped} skipped")
        print(f"{self.passed} passed, {self.failed} failed")
        return self.failed == 0
