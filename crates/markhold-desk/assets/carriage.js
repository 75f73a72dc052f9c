// Where characters come to stand on paper: lines from characters. Knows no screen.
//
// Carriage return with line feed is one new line, in either order and however often the
// return is repeated; either alone is one too, as with `markhold copy`. A line that is full
// goes on in the next.

const RETURN = 8;
const FEED = 2;

/** The carriage at the begin of a line, as it was after the characters before it. */
function atRest() {
  return { column: 0, returned: false, fed: false };
}

export class Carriage {
  constructor(length) {
    this.length = length;
    this.reset();
  }

  reset() {
    this.state = atRest();
  }

  /** Takes a character; `true` if a new line begins before it. */
  take(character) {
    const state = this.state;
    const glyph = character.glyph;
    if (character.code === RETURN) {
      // A return right after a feed belongs to it.
      state.returned = !state.fed;
      return false;
    }
    if (character.code === FEED) {
      this.state = { column: 0, returned: false, fed: true };
      return true;
    }
    if (!printed(glyph)) return false;
    const full = state.column >= this.length && glyph !== " ";
    const fresh = state.returned || full;
    this.state = { column: fresh ? 1 : state.column + 1, returned: false, fed: false };
    return fresh;
  }
}

/** Whether a glyph takes a place on paper. */
export function printed(glyph) {
  return glyph !== null && glyph >= " ";
}

/** How doubtful a character is: 0 not at all, to 3. */
export function doubtOf(character) {
  const p = character.probability;
  if (p >= 0.95) return 0;
  if (p >= 0.85) return 1;
  return p >= 0.6 ? 2 : 3;
}
