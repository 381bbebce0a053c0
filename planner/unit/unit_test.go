package unit

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Exact factors. Source: NIST Special Publication 811, appendix B.8: pound 0.45359237 kg,
// ounce 0.028349523125 kg, both exact (international yard and pound agreement, 1959);
// degree Celsius to Fahrenheit × 1.8 + 32.
func TestFactors(t *testing.T) {
	if Pound != 453_592_370_000 || Ounce != 28_349_523_125 || 16*Ounce != Pound {
		t.Errorf("pound %d, ounce %d", int64(Pound), int64(Ounce))
	}
	if Kilogram != 1_000_000_000_000 {
		t.Errorf("kilogram %d", int64(Kilogram))
	}
	for _, row := range []struct {
		c, f string
	}{{"0 C", "32 F"}, {"100 C", "212 F"}, {"-40 C", "-40 F"}, {"4.4 C", "39.92 F"}, {"0.1 C", "32.18 F"}} {
		c, err := ParseTemp(row.c)
		f, err2 := ParseTemp(row.f)
		if err != nil || err2 != nil || c != f {
			t.Errorf("%s = %s, want %s (%v %v)", row.c, c, row.f, err, err2)
		}
	}
}

func bigMulDiv(a, b, c int64, r Rounding) *big.Int {
	p := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
	q, rem := new(big.Int).QuoRem(p, big.NewInt(c), new(big.Int)) // towards zero
	away := int64(1)
	if p.Sign()*big.NewInt(c).Sign() < 0 {
		away = -1
	}
	twice := new(big.Int).Abs(rem)
	twice.Lsh(twice, 1)
	divisor := new(big.Int).Abs(big.NewInt(c))
	if r == Up && rem.Sign() != 0 || r == HalfUp && twice.Cmp(divisor) >= 0 {
		q.Add(q, big.NewInt(away))
	}
	return q
}

// MulDiv is a × b ÷ c of the integers, or it panics: it never wraps round.
func TestMulDivAgainstBig(t *testing.T) {
	number := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-1000, 1000), rapid.SampledFrom([]int64{math.MinInt64, math.MinInt64 + 1, math.MaxInt64, 0, 1, -1}))
	rapid.Check(t, func(t *rapid.T) {
		a, b := number.Draw(t, "a"), number.Draw(t, "b")
		c := number.Filter(func(c int64) bool { return c != 0 }).Draw(t, "c")
		r := Rounding(rapid.IntRange(int(HalfUp), int(Down)).Draw(t, "rounding"))
		want := bigMulDiv(a, b, c, r)
		got, fits := tryMulDiv(t, a, b, c, r)
		// The one result that is refused though an int64 holds it is the lowest.
		if fits != (want.IsInt64() && want.Int64() != math.MinInt64) {
			t.Fatalf("MulDiv(%d, %d, %d, %d) fits = %v, exact %s", a, b, c, r, fits, want)
		}
		if fits && got != want.Int64() {
			t.Fatalf("MulDiv(%d, %d, %d, %d) = %d, want %s", a, b, c, r, got, want)
		}
	})
}

func tryMulDiv(t *rapid.T, a, b, c int64, r Rounding) (v int64, fits bool) {
	defer func() {
		if p := recover(); p != nil {
			if err, ok := p.(error); !ok || !errors.Is(err, ErrRange) {
				t.Fatalf("panic %v", p)
			}
		}
	}()
	return MulDiv(a, b, c, r), true
}

func TestMulDivTable(t *testing.T) {
	for _, row := range []struct {
		a, b, c          int64
		halfUp, up, down int64
	}{
		{7, 1, 2, 4, 4, 3}, {-7, 1, 2, -4, -4, -3}, {7, 1, -2, -4, -4, -3}, {-7, -1, 2, 4, 4, 3},
		{1, 1, 3, 0, 1, 0}, {2, 1, 3, 1, 1, 0}, {6, 1, 3, 2, 2, 2}, {0, 5, 3, 0, 0, 0},
		{math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt64},
	} {
		for r, want := range map[Rounding]int64{HalfUp: row.halfUp, Up: row.up, Down: row.down} {
			if got := MulDiv(row.a, row.b, row.c, r); got != want {
				t.Errorf("MulDiv(%d, %d, %d, %d) = %d, want %d", row.a, row.b, row.c, r, got, want)
			}
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("dividing by zero did not panic")
		}
	}()
	MulDiv(1, 1, 0, HalfUp)
}

func TestParseRefuses(t *testing.T) {
	for _, row := range []struct {
		kind  string
		parse func(string) error
		bad   []string
	}{
		{"weight", func(s string) error { _, err := ParseWeight(s); return err },
			[]string{"", "4.6", "lb", "4,60 lb", "4. lb", ". lb", "1e3 g", "--4 lb", "4 4 lb", "4 stone", "٤ lb", "0x10 g", "NaN kg", "99999999999999 kg", "9999999999 kg", "0.0000000001 mg"}},
		{"temperature", func(s string) error { _, err := ParseTemp(s); return err },
			[]string{"", "38.5", "F", "38,5 F", "38.555 F", "0.001 C", "38 K", "1000000 F", "-100000 C"}},
		{"money", func(s string) error { _, err := ParseMoney(s); return err },
			[]string{"", "$", "95.005", "95,00", "$$5", "--5", "5 dollars", "$-5", "-$-5"}},
		{"share", func(s string) error { _, err := ParseRatio(s); return err },
			[]string{"", "%", "10000000", "2,2 %", "0.00001 %", "1.5 ppm", "two %"}},
		{"day", func(s string) error { _, err := ParseDay(s); return err },
			[]string{"", "2026-02-29", "2026-13-01", "10/08/2026", "2026-10-8", "20261008", "2026-10-08T00:00:00Z"}},
		{"instant", func(s string) error { _, err := ParseInstant(s); return err },
			[]string{"", "2026-10-08", "2026-10-08 15:30:00", "2026-10-08T15:30:00", "2026-10-08T25:00:00Z"}},
	} {
		for _, bad := range row.bad {
			err := row.parse(bad)
			var p *ParseError
			if !errors.As(err, &p) || p.Got != bad {
				t.Errorf("%s %q: err = %v", row.kind, bad, err)
			}
		}
	}
	if _, err := ParseWeight("4,60 lb"); !strings.Contains(err.Error(), "write a point, not a comma") {
		t.Errorf("comma: %v", err)
	}
}

func TestWeights(t *testing.T) {
	for _, row := range []struct {
		in         string
		want       Weight
		show, text string
	}{
		{"4.60 lb", 460 * Pound / 100, "4.60 lb", "4.60 lb"},
		{"5.25LB", 525 * Pound / 100, "5.25 lb", "5.25 lb"},
		{" 84 oz ", 84 * Ounce, "5.25 lb", "5.25 lb"},
		{"2270 g", 2270 * Gram, "5.00 lb", "2270 g"},
		{"2.27 kg", 2270 * Gram, "5.00 lb", "2270 g"},
		{"500 mg", Gram / 2, "0.00 lb", "0.5 g"},
		{"1.005 lb", 1005 * Pound / 1000, "1.01 lb", "1.005 lb"},
		{"-0.5 lb", -Pound / 2, "-0.50 lb", "-0.50 lb"},
		{"0.000001 mg", 1, "0.00 lb", "0.000000001 g"},
		{"0 g", 0, "0.00 lb", "0.00 lb"},
	} {
		w, err := ParseWeight(row.in)
		if err != nil || w != row.want || w.LB() != row.show || w.String() != row.text {
			t.Errorf("%q = %d (%s, %s), %v; want %d (%s, %s)", row.in, w, w.LB(), w, err, row.want, row.show, row.text)
		}
	}
	// The shop's pound: 1 lb = 453.59237 g (house units).
	if got := Pound.G(5); got != "453.59237 g" {
		t.Errorf("a pound is %s", got)
	}
	if w, err := ParseWeightIn("4.60", Pound); err != nil || w != 460*Pound/100 {
		t.Errorf("ParseWeightIn = %s, %v", w, err)
	}
	if w, err := ParseWeightIn("2000 g", Pound); err != nil || w != 2*Kilogram {
		t.Errorf("ParseWeightIn with unit = %s, %v", w, err)
	}
	if _, err := ParseWeightIn("much", Pound); err == nil || !strings.Contains(err.Error(), "a weight in lb") {
		t.Errorf("ParseWeightIn(much) = %v", err)
	}
	if got := (7 * Gram / 2).Round(Gram); got != 4*Gram {
		t.Errorf("3.5 g rounds to %s", got)
	}
	if got := (3*Gram + 1).RoundUp(Gram); got != 4*Gram {
		t.Errorf("just over 3 g rounds up to %s", got)
	}
	if got := (3 * Gram).RoundUp(Gram); got != 3*Gram {
		t.Errorf("3 g rounds up to %s", got)
	}
}

func TestRatiosAndMoney(t *testing.T) {
	for in, want := range map[string]Ratio{"2.2 %": 22_000, "156 ppm": 156, "0.0625": 62_500, "100%": One, "-5 %": -50_000, "0.0001 %": 1} {
		if r, err := ParseRatio(in); err != nil || r != want {
			t.Errorf("%q = %d, %v; want %d", in, r, err, want)
		}
	}
	if got := Ratio(736_000).Pct(1); got != "73.6 %" {
		t.Errorf("Pct = %s", got)
	}
	for in, want := range map[string]Money{"$95.00": 9500, "95": 9500, "95.5": 9550, "-$0.01": -1, "$0": 0} {
		if m, err := ParseMoney(in); err != nil || m != want {
			t.Errorf("%q = %d, %v; want %d", in, m, err, want)
		}
	}
	if got := Money(-150).String(); got != "-$1.50" {
		t.Errorf("String = %s", got)
	}
	// 206 lb at $2.40 (house scenario W3, the farm's part of $584.40).
	if got := Money(240).PerPound(206 * Pound); got != 49440 {
		t.Errorf("206 lb at $2.40 = %s", got)
	}
	// Half of six seats at $165 less the shop's half (house scenario S-15): $82.50.
	if got := Money(16500).Share(One / 2); got != 8250 {
		t.Errorf("half of $165.00 = %s", got)
	}
}

// Parts of a split add up to the whole, each within a cent of its exact share, and a
// larger share never gets less.
func TestSplitAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := Money(rapid.Int64Range(-1e12, 1e12).Draw(t, "total"))
		shares := rapid.SliceOfN(rapid.Int64Range(0, 1e12), 1, 12).Draw(t, "shares")
		var sum int64
		for _, s := range shares {
			sum += s
		}
		parts := Split(total, shares)
		if sum == 0 {
			if parts != nil {
				t.Fatalf("nothing to share by, got %v", parts)
			}
			return
		}
		var back Money
		for i, p := range parts {
			back += p
			down, up := MulDiv(int64(total), shares[i], sum, Down), MulDiv(int64(total), shares[i], sum, Up)
			if v := int64(p); v != down && v != up {
				t.Fatalf("part %d of %s is %s", i, total, p)
			}
			for j := range parts {
				if shares[i] > shares[j] && (total > 0 && p < parts[j] || total < 0 && p > parts[j]) {
					t.Fatalf("shares %v of %s give %v", shares, total, parts)
				}
			}
		}
		if back != total {
			t.Fatalf("%v adds up to %s, not %s", parts, back, total)
		}
	})
	if got := Split(100, []int64{1, 1, 1}); got[0] != 34 || got[1] != 33 || got[2] != 33 {
		t.Errorf("a dollar by three = %v, the first gets the odd cent", got)
	}
	if Split(1, []int64{1, -1}) != nil || Split(1, nil) != nil {
		t.Error("a negative share or none at all was split")
	}
}

func TestFaults(t *testing.T) {
	var f Faults
	if f.Err() != nil {
		t.Error("no faults is an error")
	}
	f.Add("a", "wrong")
	f.Under("b", Faults{{"c", "odd"}, {"", "empty"}, {"[1]", "late"}})
	if got := f.Err().Error(); got != "a: wrong; b.c: odd; b: empty; b[1]: late" {
		t.Errorf("Faults = %s", got)
	}
}

// What is written is read back the same, for every value of every quantity.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Weight(rapid.Int64Range(-1e18, 1e18).Draw(t, "weight"))
		if back, err := ParseWeight(w.String()); err != nil || back != w {
			t.Fatalf("%d written %s, read %d, %v", w, w, back, err)
		}
		c := Temp(rapid.Int64Range(-100_000, 900_000).Draw(t, "temp"))
		if back, err := ParseTemp(c.String()); err != nil || back != c {
			t.Fatalf("%d written %s, read %d, %v", c, c, back, err)
		}
		m := Money(rapid.Int64Range(-1e14+1, 1e14-1).Draw(t, "money"))
		if back, err := ParseMoney(m.String()); err != nil || back != m {
			t.Fatalf("%d written %s, read %d, %v", m, m, back, err)
		}
		r := Ratio(rapid.Int64Range(-1e12, 1e12).Draw(t, "ratio"))
		if back, err := ParseRatio(r.String()); err != nil || back != r {
			t.Fatalf("%d written %s, read %d, %v", r, r, back, err)
		}
		d := Day(rapid.Int32Range(-200_000, 2_900_000).Draw(t, "day"))
		var backDay Day
		if err := backDay.UnmarshalText([]byte(d.String())); err != nil || backDay != d {
			t.Fatalf("%d written %s, read %d, %v", d, d, backDay, err)
		}
		i := Instant(rapid.Int64Range(-6e10, 2.5e11).Draw(t, "instant"))
		var backInstant Instant
		if err := backInstant.UnmarshalText([]byte(i.String())); err != nil || backInstant != i {
			t.Fatalf("%d written %s, read %d, %v", i, i, backInstant, err)
		}
	})
}

func FuzzWeight(f *testing.F) {
	for _, s := range []string{"4.60 lb", "2270 g", "0.5 oz", "-1 kg", "999999999999 mg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if w, err := ParseWeight(s); err == nil {
			if back, err := ParseWeight(w.String()); err != nil || back != w {
				t.Fatalf("%q is %d, written %s, read %d, %v", s, w, w, back, err)
			}
		}
	})
}

func FuzzTemp(f *testing.F) {
	for _, s := range []string{"38.5 F", "-40 °C", "0.1c"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseTemp(s); err == nil {
			if back, err := ParseTemp(v.String()); err != nil || back != v {
				t.Fatalf("%q is %d, written %s, read %d, %v", s, v, v, back, err)
			}
		}
	})
}

func FuzzMoney(f *testing.F) {
	for _, s := range []string{"$95.00", "-1.5", "0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseMoney(s); err == nil {
			if back, err := ParseMoney(v.String()); err != nil || back != v {
				t.Fatalf("%q is %d, written %s, read %d, %v", s, v, v, back, err)
			}
		}
	})
}

func FuzzRatio(f *testing.F) {
	for _, s := range []string{"2.2 %", "156 ppm", "0.0625"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseRatio(s); err == nil {
			if back, err := ParseRatio(v.String()); err != nil || back != v {
				t.Fatalf("%q is %d, written %s, read %d, %v", s, v, v, back, err)
			}
		}
	})
}

func FuzzDay(f *testing.F) {
	for _, s := range []string{"2026-10-08", "0001-01-01", "9999-12-31"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseDay(s); err == nil && v != 0 {
			if back, err := ParseDay(v.String()); err != nil || back != v {
				t.Fatalf("%q is %d, written %s, read %d, %v", s, v, v, back, err)
			}
		}
	})
}
