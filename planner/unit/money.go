package unit

import "strings"

// Money is an amount in cents of the shop's one currency.
type Money int64

// ParseMoney reads "$95.00", "95" or "95.50". More than two places is refused.
func ParseMoney(s string) (Money, error) {
	t := strings.TrimSpace(s)
	neg := strings.HasPrefix(t, "-")
	t = strings.TrimPrefix(strings.TrimPrefix(t, "-"), "$")
	if v, ok := parseDecimal(t, 100); ok && !strings.HasPrefix(t, "-") {
		if neg {
			v = -v
		}
		return Money(v), nil
	}
	return 0, &ParseError{Want: `an amount of money, such as "$95.00"`, Got: s}
}

// String writes "$95.00".
func (m Money) String() string {
	if m < 0 {
		return "-$" + formatDecimal(-int64(m), 100, 2)
	}
	return "$" + formatDecimal(int64(m), 100, 2)
}

// Share returns m × r rounded half up to a cent.
func (m Money) Share(r Ratio) Money { return Money(MulDiv(int64(m), int64(r), int64(One), HalfUp)) }

// PerPound returns the cost of w at m a pound, rounded half up to a cent.
func (m Money) PerPound(w Weight) Money {
	return Money(MulDiv(int64(m), int64(w), int64(Pound), HalfUp))
}

// Split shares total in proportion to shares by largest remainder; ties go to the
// earlier share. The parts always add up to total. Shares must not be negative and
// at least one must be above zero, or Split returns nil.
func Split(total Money, shares []int64) []Money {
	var sum int64
	for _, s := range shares {
		if s < 0 {
			return nil
		}
		sum += s
	}
	if sum == 0 {
		return nil
	}
	sign, t := int64(1), int64(total)
	if t < 0 {
		sign, t = -1, -t
	}
	parts, rems := make([]Money, len(shares)), make([]int64, len(shares))
	left := t
	for i, s := range shares {
		q := MulDiv(t, s, sum, Down)
		parts[i] = Money(q)
		rems[i] = mulMod(t, s, sum)
		left -= q
	}
	for ; left > 0; left-- {
		best := -1
		for i, r := range rems {
			if r >= 0 && (best < 0 || r > rems[best]) {
				best = i
			}
		}
		parts[best]++
		rems[best] = -1
	}
	for i := range parts {
		parts[i] *= Money(sign)
	}
	return parts
}

// MarshalText writes String.
func (m Money) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what ParseMoney reads.
func (m *Money) UnmarshalText(b []byte) (err error) { *m, err = ParseMoney(string(b)); return err }
