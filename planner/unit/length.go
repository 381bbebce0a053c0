package unit

import "strings"

// Length is a length in micrometres: 0.01 in is 254 and a tenth of a millimetre 100, so
// both rulers are exact.
type Length int64

// The units lengths are given in.
const (
	Millimetre Length = 1000
	Inch       Length = 25_400
)

// longest bounds what may be typed.
const longest = 1_000 * 1000 * Millimetre

// ParseLength reads `1.5 in`, `1.5"` or "38 mm".
func ParseLength(s string) (Length, error) {
	t := strings.TrimSpace(s)
	for _, u := range []struct {
		suffix string
		scale  Length
	}{{"in", Inch}, {`"`, Inch}, {"mm", Millimetre}, {"cm", 10 * Millimetre}} {
		if n, ok := strings.CutSuffix(t, u.suffix); ok {
			return lengthOf(strings.TrimSpace(n), u.scale, s)
		}
	}
	return 0, wrongLength(s)
}

// ParseLengthIn is ParseLength for a box labelled with its unit, where the unit may be
// left out.
func ParseLengthIn(s string, u Length) (Length, error) {
	t := strings.TrimSpace(s)
	if t != "" && strings.IndexFunc(t, func(r rune) bool { return (r < '0' || r > '9') && r != '.' }) < 0 {
		return lengthOf(t, u, s)
	}
	return ParseLength(s)
}

func lengthOf(n string, u Length, typed string) (Length, error) {
	if v, ok := parseDecimal(n, int64(u)); ok && v >= 0 && v <= int64(longest) {
		return Length(v), nil
	}
	return 0, wrongLength(typed)
}

func wrongLength(s string) error {
	return &ParseError{Want: `a length with its unit, such as "1.5 in" or "38 mm"`, Got: s}
}

// MM is the length in millimetres, for models.
func (l Length) MM() float64 { return float64(l) / float64(Millimetre) }

// LengthOfMM returns the length nearest to mm.
func LengthOfMM(mm float64) Length { return Length(roundFloat(mm * float64(Millimetre))) }

// String writes the length exactly, in inches where that can be done in four places:
// "1.5 in".
func (l Length) String() string {
	if s, ok := shortest(int64(l), int64(Inch), 0, 4); ok {
		return s + " in"
	}
	s, _ := shortest(int64(l), int64(Millimetre), 0, 3)
	return s + " mm"
}

// In writes the length in inches to hundredths for people: "1.51 in".
func (l Length) In() string { return formatDecimal(int64(l), int64(Inch), 2) + " in" }

// MarshalText writes String.
func (l Length) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads what ParseLength reads.
func (l *Length) UnmarshalText(b []byte) (err error) { *l, err = ParseLength(string(b)); return err }
