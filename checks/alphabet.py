"""Text to five-unit codes, for the senders of the checks.

Table: International Telegraph Alphabet No. 2 (ITU-T S.1), written out again
here so that the checks share nothing with the program they judge; `check_alphabet.py`
compares it with the PyPI library `baudot`.

A code is an integer 0..31; element 1, the first on the line, is the least
significant bit, and a set bit is mark (Z, hole, stop polarity).
"""

# Position in each string = code. "_" marks a place without a graphic.
#         0         1         2         3
#         0123456789012345 6789012345678901
LETTERS = "_E_A SIU_DRJNFCKTZLWHYPQOBG_MXV_"
# Places not agreed between the two rows, or left to national use, are "_" here:
# the texts of the checks never send them.
FIGURES = "_3_- _87__4_,_:(5_)2_6019?__./__"

CR, LF, SPACE, LTRS, FIGS, BLANK = 8, 2, 4, 31, 27, 0

_LETTER_CODE = {c: i for i, c in enumerate(LETTERS) if c not in "_ "}
_FIGURE_CODE = {c: i for i, c in enumerate(FIGURES) if c not in "_ "}


def encode(text, start_shift=None):
    """Codes for `text`, upper-cased; "\\n" becomes CR CR LF (common practice:
    the second return covers a garbled first).

    The figures shift is sent again after every space or line end, so that a
    receiver that goes back to letters on a space reads the same text (common
    practice). `start_shift` is the shift assumed before the first character,
    None if not known, LTRS or FIGS. Raises KeyError on a character that is not
    in the common part of both figures rows.
    """
    codes, shift = [], start_shift
    fresh = False
    for c in text.upper():
        if c == "\n":
            codes += [CR, CR, LF]
            fresh = shift == FIGS
        elif c == " ":
            codes.append(SPACE)
            fresh = shift == FIGS
        elif c in _LETTER_CODE:
            if shift != LTRS:
                codes.append(LTRS)
            shift, fresh = LTRS, False
            codes.append(_LETTER_CODE[c])
        else:
            code = _FIGURE_CODE[c]
            if shift != FIGS or fresh:
                codes.append(FIGS)
            shift, fresh = FIGS, False
            codes.append(code)
    return codes


def decode(codes, unshift_on_space=False):
    """Printed text for `codes`; CR is dropped and LF becomes "\\n"."""
    out, figures = [], False
    for code in codes:
        if code == LTRS:
            figures = False
        elif code == FIGS:
            figures = True
        elif code == LF:
            out.append("\n")
        elif code == SPACE:
            out.append(" ")
            figures = figures and not unshift_on_space
        elif code not in (CR, BLANK):
            out.append((FIGURES if figures else LETTERS)[code])
    return "".join(out)
