package unit

import "strings"

// Temp is a temperature in hundredths of a degree Fahrenheit: 41 °F is 4100 and
// 0 °C is 3200. A tenth of either degree is whole.
type Temp int64

// Fahrenheit is one degree; it scales differences and whole readings alike.
const Fahrenheit Temp = 100

// ParseTemp reads "152.4 F", "152.4 °F" or "4.5 C".
func ParseTemp(s string) (Temp, error) {
	t := strings.ToUpper(strings.TrimSpace(s))
	for _, c := range []struct {
		suffix string
		scale  int64
		zero   Temp
	}{{"F", 100, 0}, {"C", 180, 3200}} {
		if n, ok := strings.CutSuffix(t, c.suffix); ok {
			n = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(n), "°"))
			if v, ok := parseDecimal(n, c.scale); ok && v >= -100_000 && v <= 1_000_000 {
				return Temp(v) + c.zero, nil
			}
		}
	}
	return 0, &ParseError{Want: `a temperature with its scale, such as "38.5 F" or "3.5 C"`, Got: s}
}

// TempOfF returns the temperature nearest to f degrees Fahrenheit.
func TempOfF(f float64) Temp { return Temp(roundFloat(f * 100)) }

// F is the temperature in degrees Fahrenheit, for models.
func (t Temp) F() float64 { return float64(t) / 100 }

// C is the temperature in degrees Celsius, for models.
func (t Temp) C() float64 { return float64(t-3200) / 180 }

// String writes the temperature exactly: "38.50 F" is written "38.5 F".
func (t Temp) String() string {
	s, ok := shortest(int64(t), 100, 0, 2)
	if !ok { // wider than can be typed
		s = formatDecimal(int64(t), 100, 2)
	}
	return s + " F"
}

// Show writes the temperature to a tenth for people: "38.5 °F".
func (t Temp) Show() string { return formatDecimal(int64(t), 100, 1) + " °F" }

// MarshalText writes String.
func (t Temp) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads what ParseTemp reads.
func (t *Temp) UnmarshalText(b []byte) (err error) { *t, err = ParseTemp(string(b)); return err }
