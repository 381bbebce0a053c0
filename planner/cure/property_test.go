package cure

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

var number = regexp.MustCompile(`[0-9]`)

func drawSlab(t *rapid.T) Slab {
	s := Slab{Tag: "B4-03", SkinOn: rapid.Bool().Draw(t, "skin on")}
	s.Green = unit.Weight(rapid.Int64Range(1, 900).Draw(t, "green, 0.01 lb")) * (unit.Pound / 100)
	if s.SkinOn {
		s.Skin = unit.Ratio(rapid.Int64Range(0, 300_000).Draw(t, "skin"))
	}
	return s
}

func drawLots(t *rapid.T) []LotShare {
	left := unit.One
	var lots []LotShare
	for n := rapid.IntRange(1, 3).Draw(t, "lots"); n > 0; n-- {
		share := left
		if n > 1 {
			share = unit.Ratio(rapid.Int64Range(0, int64(left)).Draw(t, "share"))
		}
		left -= share
		l := Lot{ID: fmt.Sprint("C-", n), Nitrite: rapid.SampledFrom([]unit.Ratio{62_500, 58_824, 6_000, 40_000, 100_000}).Draw(t, "nitrite")}
		if rapid.IntRange(0, 9).Draw(t, "with nitrate") == 9 {
			l.Nitrate = 40_000
		}
		lots = append(lots, LotShare{l, share})
	}
	return lots
}

// outside says in whole numbers whether the weights lie outside 120 to 200 ppm on
// the meat under the skin, apart from the code under test.
func outside(s Slab, parts []Dose) bool {
	skin := int64(0)
	if s.SkinOn {
		skin = max(100_000, int64(s.Skin))
	}
	meat := new(big.Int).Mul(big.NewInt(int64(s.Green)), big.NewInt(1_000_000-skin))
	n := new(big.Int)
	for _, p := range parts {
		if p.Nitrate > 0 && p.Weight > 0 {
			return true
		}
		n.Add(n, new(big.Int).Mul(big.NewInt(int64(p.Weight)), big.NewInt(int64(p.Nitrite))))
	}
	n.Mul(n, big.NewInt(1_000_000))
	return n.Cmp(new(big.Int).Mul(meat, big.NewInt(200))) > 0 || n.Cmp(new(big.Int).Mul(meat, big.NewInt(120))) < 0
}

// Whatever the slab, recipe, scale, skin and lots: no ticket and no accepted
// weigh-out lies outside the limit, and every refusal says why in numbers.
func TestNothingPassesTheLimit(t *testing.T) {
	made, passed, stopped := 0, 0, 0
	defer func() { t.Logf("%d tickets, %d weigh-outs passed, %d stopped", made, passed, stopped) }()
	steadytest.Runs(t, "300")
	rapid.Check(t, func(t *rapid.T) {
		s, lots := drawSlab(t), drawLots(t)
		r := HouseRecipe()
		// Aim near the limit and its floor, so that both sides are tried.
		strength := int64(0)
		for _, l := range lots {
			strength += int64(l.Share) * int64(l.Nitrite) / 1_000_000
		}
		r.CuringSalt = unit.Ratio(rapid.Int64Range(90, 230).Draw(t, "aim") * 1_000_000 / max(1, strength))
		r.Salt = unit.Ratio(rapid.Int64Range(0, 60_000).Draw(t, "salt"))
		step := rapid.SampledFrom([]unit.Weight{tenth, tenth / 2, tenth / 10, unit.Gram}).Draw(t, "step")
		jar := Jar{"PB", unit.Ratio(rapid.Int64Range(0, 20_000).Draw(t, "spice"))}
		k, err := NewTicket(s, r, jar, lots, step)
		if err != nil {
			var no *Refusal
			if !errors.As(err, &no) || no.Verdict.Answer != Block || !number.MatchString(err.Error()) {
				t.Fatalf("refused with %#v", err)
			}
			return
		}
		made++
		if step > tenth || outside(s, k.Parts) {
			t.Fatalf("a ticket outside the limit: %+v", k)
		}
		if err := k.Check(); err != nil {
			t.Fatalf("Check of a fresh ticket: %v", err)
		}

		for range 8 {
			// Weigh something out near the ticket, or nowhere near it.
			var texts []string
			var doses []Dose
			var got unit.Weight
			for _, p := range k.Parts {
				tenths := int64(p.Weight / tenth)
				w := rapid.Int64Range(max(0, tenths-tenths/8-1), tenths+tenths/8+1).Draw(t, "tenths weighed")
				texts = append(texts, fmt.Sprintf("%d.%d", w/10, w%10))
				doses = append(doses, Dose{p.Lot, unit.Weight(w) * tenth})
				got += unit.Weight(w) * tenth
			}
			sc := Scale{Name: "T1", Step: step, Checked: today, Reading: unit.Weight(rapid.Int64Range(489, 512).Draw(t, "check")) * (unit.Gram / 100)}
			v := CheckWeighOut(k, strings.Join(texts, "+"), sc, today)
			off := max(got-k.CuringSalt, k.CuringSalt-got)
			bad := outside(s, doses) || 10*off > k.CuringSalt || !ScaleCheckPasses(sc.Reading)
			if (v.Answer == Block) != bad {
				t.Fatalf("%v on %+v: %+v", texts, k, v)
			}
			if v.Answer == Block {
				stopped++
			} else {
				passed++
			}
			if len(v.Reasons) == 0 || !number.MatchString(v.Reason()) {
				t.Fatalf("no numbers in %+v", v)
			}
		}
	})
	if made == 0 || passed == 0 || stopped == 0 {
		t.Errorf("%d tickets, %d passed, %d stopped: the draw tries too little", made, passed, stopped)
	}
}

// More curing salt never makes a verdict milder on the upper side, and the order of
// the doses is irrelevant.
func TestJudgeLaws(t *testing.T) {
	steadytest.Runs(t, "500")
	rapid.Check(t, func(t *rapid.T) {
		s := drawSlab(t)
		a := Dose{lot(usual), unit.Weight(rapid.Int64Range(0, 2_000).Draw(t, "a")) * tenth}
		b := Dose{lot(unit.Ratio(rapid.Int64Range(1, 200_000).Draw(t, "f"))), unit.Weight(rapid.Int64Range(0, 2_000).Draw(t, "b")) * tenth}
		v, w := Judge(USDryBacon(), s, tenth, a, b), Judge(USDryBacon(), s, tenth, b, a)
		if v.Answer != w.Answer || v.PPM != w.PPM {
			t.Fatalf("order matters: %+v, %+v", v, w)
		}
		more := a
		more.Weight += tenth
		u := Judge(USDryBacon(), s, tenth, more, b)
		if u.PPM < v.PPM || v.Answer == Block && u.Answer != Block {
			t.Fatalf("more cure was judged milder: %+v, %+v", v, u)
		}
		bare := s
		bare.SkinOn, bare.Skin = false, 0
		if n := Judge(USDryBacon(), bare, tenth, a, b); n.Answer == Block && v.Answer != Block {
			t.Fatalf("skin made it milder: %+v, %+v", n, v)
		}
	})
}

// What the parser takes is one weight to a tenth of a gram, which written back reads
// the same; what it refuses it refuses with the text in the sentence.
func FuzzParseReading(f *testing.F) {
	for _, s := range []string{"4.7", "5.0 g", "5", "4,7", "", ".", "5.", ".5", "-4.7", "4.70", "1e1", "4.7 oz", "４.７", "0.0", "1000.1", "4.7+1", "9999999999999.9", "4.7gg", "00.1", "g", "\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, err := ParseReading(s)
		if err != nil {
			if w != 0 || !errors.As(err, new(*Refusal)) || err.Error() == "" {
				t.Errorf("ParseReading(%q) = %v, %v", s, w, err)
			}
			return
		}
		if w < 0 || w%tenth != 0 || w > maxReading {
			t.Errorf("ParseReading(%q) = %s", s, w)
		}
		if back, err := ParseReading(w.Number(unit.Gram, 1)); err != nil || back != w {
			t.Errorf("%q read as %s, written back %v, %v", s, w, back, err)
		}
		if strings.ContainsAny(s, ",-") || !strings.Contains(s, ".") {
			t.Errorf("ParseReading(%q) = %s, want a refusal", s, w)
		}
	})
}

func FuzzParsePPM(f *testing.F) {
	for _, s := range []string{"156.25 ppm", "200", "5 k", "m", "1 ppm ppm", "0.0001", "-1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePPM(s)
		if err != nil {
			return
		}
		if back, err := ParsePPM(p.String()); p < 0 || err != nil || back != p {
			t.Errorf("%q read as %v, written back %v, %v", s, p, back, err)
		}
	})
}
