package carcass

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// checks reads rows of outside figures from testdata/checks in the repository's root.
// Every row names its id, its source and its tag: read in the source, computed from
// read figures, or trade practice.
func checks(t *testing.T, file string, rows any) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/checks/" + file)
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.DisallowUnknownFields()
	if err := d.Decode(rows); err != nil {
		t.Fatal(err)
	}
}

// near accepts 0.01 lb: the sources print hundredths.
func near(t *testing.T, what string, got, want unit.Weight) {
	t.Helper()
	if diff := got - want; diff > unit.Pound/100 || -diff > unit.Pound/100 {
		t.Errorf("%s = %s, want %s", what, got.LB(), want.LB())
	}
}

func ratioNear(t *testing.T, what string, got, want unit.Ratio) {
	t.Helper()
	if diff := got - want; diff > unit.Percent/20 || -diff > unit.Percent/20 { // a tenth is printed
		t.Errorf("%s = %s, want %s", what, got, want)
	}
}

type source struct {
	ID     string `json:"id"`
	Source string `json:"source"`
	Tag    string `json:"tag"`
	Note   string `json:"note,omitempty"`
}

func (s source) check(t *testing.T, seen map[string]bool) {
	t.Helper()
	if s.ID == "" || s.Source == "" || s.Tag == "" {
		t.Errorf("row %+v names no id, source or tag", s)
	}
	seen[s.ID] = true
}

// Chains: live → hot → cold → side, and the yields between.
func TestChainRows(t *testing.T) {
	var rows []struct {
		source
		Live     unit.Weight   `json:"live"`
		Dressing unit.Ratio    `json:"dressing"`
		Printed  unit.Ratio    `json:"want_dressing"` // a result, printed rounded
		Shrink   unit.Ratio    `json:"shrink"`
		Hot      unit.Weight   `json:"hot"`
		Cold     unit.Weight   `json:"cold"`
		Side     unit.Weight   `json:"side"`
		Packaged unit.Weight   `json:"packaged"`
		Cutting  unit.Ratio    `json:"cutting"`
		OfLive   unit.Ratio    `json:"of_live"`
		Parts    []unit.Weight `json:"parts"`
		Whole    unit.Weight   `json:"whole"`
		Warn     string        `json:"warn"`
	}
	checks(t, "pork-chain.json", &rows)
	seen := map[string]bool{}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			r.check(t, seen)
			hot := r.Hot
			if r.Live > 0 && r.Dressing > 0 {
				c := FromLive(r.Live, r.Dressing, r.Shrink)
				if r.Hot > 0 {
					near(t, "hot", c.Hot, r.Hot)
				}
				if r.Cold > 0 {
					near(t, "cold", c.Cold, r.Cold)
				}
				if r.Side > 0 {
					near(t, "side", c.Side, r.Side)
				}
				hot = c.Hot
			}
			if want := max(r.Dressing, r.Printed); r.Live > 0 && r.Hot > 0 {
				ratioNear(t, "dressing", Dressing(r.Hot, r.Live), want)
			}
			if r.Packaged > 0 {
				base := r.Whole
				if base == 0 {
					base = hot
				}
				ratioNear(t, "cutting yield", CuttingYield(r.Packaged, base), r.Cutting)
				if r.OfLive > 0 {
					ratioNear(t, "of live", CuttingYield(r.Packaged, r.Live), r.OfLive)
				}
			}
			if len(r.Parts) > 0 {
				b := CheckBalance(r.Whole, r.Parts...)
				if !b.OK || (b.Note != "") != (r.Warn != "") || !strings.Contains(b.Note, r.Warn) {
					t.Errorf("balance = %+v, want a note %q", b, r.Warn)
				}
			}
		})
	}
	for _, id := range []string{"E-P1", "E-P2", "E-P3", "E-P4", "E-P5", "E-P6", "E-P13 scalded", "E-P13 skinned", "E-P14 saleable", "E-P14 charcuterie", "E-P16", "E-P17", "E-P15 light", "E-P15 heavy"} {
		if !seen[id] {
			t.Errorf("row %s is missing", id)
		}
	}
}

// Bellies on the scale: net weight, and slabs in both modes.
func TestBellyRows(t *testing.T) {
	type cut struct {
		Skin  Skin        `json:"skin"`
		Net   unit.Weight `json:"net"`
		Fixed int         `json:"fixed"`
		Left  unit.Weight `json:"fixed_left"`
		Equal int         `json:"equal"` // 0: no equal split, cut as fixed
		Each  unit.Weight `json:"each"`
	}
	var rows []struct {
		source
		Belly   unit.Weight `json:"belly"`
		Bellies int         `json:"bellies"`
		Total   int         `json:"total_fixed"`
		Cuts    []cut       `json:"cuts"`
	}
	checks(t, "pork-belly.json", &rows)
	seen := map[string]bool{}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			r.check(t, seen)
			for _, c := range r.Cuts {
				equal, fixed := DefaultSlabs(), DefaultSlabs()
				fixed.Mode = Fixed
				f := study().CutBelly(fixed, r.Belly, c.Skin)
				near(t, c.Skin.String()+" net", f.Net, c.Net)
				if f.Slabs.Count != c.Fixed {
					t.Errorf("%s fixed: %d slabs, want %d (%s)", c.Skin, f.Slabs.Count, c.Fixed, f.Slabs.Why)
				}
				near(t, c.Skin.String()+" left", f.Slabs.Left, c.Left)
				e := study().CutBelly(equal, r.Belly, c.Skin).Slabs
				if c.Equal == 0 {
					if e.Mode != Fixed || e.Count != c.Fixed || !strings.HasPrefix(e.Why, "no equal split") {
						t.Errorf("%s: %+v, want a fallback to fixed", c.Skin, e)
					}
					continue
				}
				if e.Mode != Equal || e.Count != c.Equal {
					t.Errorf("%s equal: %+v, want %d", c.Skin, e, c.Equal)
				}
				near(t, c.Skin.String()+" each", e.Each, c.Each)
			}
			if r.Total > 0 {
				fixed, got := DefaultSlabs(), 0
				fixed.Mode = Fixed
				for range r.Bellies {
					got += study().CutBelly(fixed, r.Belly, r.Cuts[0].Skin).Slabs.Count
				}
				if got != r.Total {
					t.Errorf("%d bellies give %d slabs, want %d", r.Bellies, got, r.Total)
				}
			}
		})
	}
	for _, id := range []string{"E-P8", "E-P9", "E-P10", "E-P11", "E-P12", "E-P19", "E-P20"} {
		if !seen[id] {
			t.Errorf("row %s is missing", id)
		}
	}
}

// study is the trim of the 1980 study of 1,798 carcasses (J. Anim. Sci., abstract):
// squaring 4.2 and skin 10.9 per 81.8 of rib-off belly.
func study() Profile {
	return Profile{Squaring: unit.RatioOf(4.2 / 81.8), Skin: unit.RatioOf(10.9 / 81.8)}
}

// E-P7: side 90.32 lb by the average class of Transl. Anim. Sci. 1(1):77–89, 2017,
// table 2. Computed.
func TestCutsOfSide(t *testing.T) {
	pct := func(h int64) unit.Ratio { return unit.Ratio(h) * unit.Percent / 100 }
	p := Profile{HCW: 1, Belly: pct(1600), Rest: []CutShare{
		{"ham", pct(2558)}, {"loin", pct(2297)}, {"butt", pct(986)}, {"picnic", pct(1078)}, {"ribs", pct(362)}}}
	b := p.Break(lbs(90.32))
	near(t, "belly", b.Belly, lbs(14.45))
	for i, want := range []float64{23.10, 20.75, 8.91, 9.74, 3.27} {
		near(t, b.Cuts[i].Name, b.Cuts[i].Weight, lbs(want))
	}
	near(t, "rest", b.Unlisted, lbs(10.11))
}

// E-P18: hot 88.07 kg, side 43.05 kg: apparent shrink 2.24 % (light class, same table).
func TestApparentShrink(t *testing.T) {
	got := ApparentShrink(unit.WeightOfGrams(88_070), unit.WeightOfGrams(43_050))
	if got.Pct(2) != "2.24 %" {
		t.Errorf("shrink %s, want 2.24 %%", got.Pct(2))
	}
}

// The half per cent of the balance check (house rule) and its words.
func TestBalance(t *testing.T) {
	for _, row := range []struct {
		whole, part float64
		ok          bool
		note        string
	}{
		{100, 100, true, ""},
		{100, 100.5, true, "0.50 lb more"},
		{100, 100.51, false, "weigh again"},
		{100, 99.5, true, "0.50 lb less"},
		{100, 99.49, false, "0.51 lb of 100.00 lb is not accounted for"},
	} {
		b := CheckBalance(lbs(row.whole), lbs(row.part))
		if b.OK != row.ok || (row.note == "") != (b.Note == "") || !strings.Contains(b.Note, row.note) {
			t.Errorf("%v of %v: %+v", row.part, row.whole, b)
		}
	}
}

func lbs(f float64) unit.Weight { return unit.WeightOfPounds(f) }

// Where the count steps down at Harl Bank (house scenario, "Why weight matters"), in
// whole pounds of hanging weight.
func TestLadder(t *testing.T) {
	p, rule := Example(), DefaultSlabs()
	steps := p.Ladder(rule, Skinless, 166*unit.Pound, 206*unit.Pound, unit.Pound)
	want := []struct {
		from, to int64
		count    int
		mode     Mode
		each     string
	}{{166, 181, 2, Equal, "5.26 lb"}, {182, 201, 2, Fixed, "5.00 lb"}, {202, 206, 3, Equal, "4.26 lb"}}
	if len(steps) != len(want) {
		t.Fatalf("steps %+v", steps)
	}
	for i, w := range want {
		s := steps[i]
		if s.From != unit.Weight(w.from)*unit.Pound || s.To != unit.Weight(w.to)*unit.Pound || s.Count != w.count || s.Mode != w.mode {
			t.Errorf("step %d: %s to %s gives %d %s, want %+v", i, s.From, s.To, s.Count, s.Mode, w)
		}
		if got := s.At.Slabs.Each.LB(); got != w.each {
			t.Errorf("at %s: %s each, want %s", s.From, got, w.each)
		}
	}
	if got := p.CutSide(rule, Side{Cold: FromHot(181*unit.Pound, p.Shrink).Side}).Slabs.Each.LB(); got != "5.73 lb" {
		t.Errorf("at 181 lb: %s each, want 5.73 lb", got)
	}
	// Skin left on: 3 from 174 lb.
	on := p.Ladder(rule, SkinOn, 173*unit.Pound, 174*unit.Pound, unit.Pound)
	if len(on) != 2 || on[0].Count != 2 || on[1].Count != 3 {
		t.Errorf("skin-on at 173 and 174 lb: %+v", on)
	}
	d, ok := p.StepDown(rule, Skinless, p.HCW)
	if !ok || d.Keeps != 202*unit.Pound || d.Count != 3 || d.Under != 2 || d.Why != "202.00 lb and up gives 3 a belly, under it 2" {
		t.Errorf("StepDown = %+v, %v", d, ok)
	}
	// J3: 206 → 200 lb, 12 slabs become 8 (two pigs, four bellies).
	slabs := func(hot unit.Weight) int {
		side := Side{Cold: FromHot(hot, p.Shrink).Side}
		_, n := p.CutList(rule, []Side{side, side, side, side})
		return n
	}
	if a, b := slabs(206*unit.Pound), slabs(200*unit.Pound); a != 12 || b != 8 {
		t.Errorf("206 lb gives %d, 200 lb %d; want 12 and 8", a, b)
	}
	if p.Ladder(rule, Skinless, 0, 1000*unit.Pound, unit.Gram) != nil {
		t.Error("a walk of half a million steps was not refused")
	}
}

// What each 206 lb pig and the season's 18 leave (house scenario, section on animals;
// W8: 3,021 lb).
func TestLeaves(t *testing.T) {
	p := Example()
	one := p.Leaves(p.ForecastSides(2))
	near(t, "one pig", one.Total, lbs(167.85))
	season := p.Leaves(p.ForecastSides(36))
	for i, want := range []string{"899", "827", "342", "385", "133", "435"} {
		if got := season.Cuts[i].Weight.Number(unit.Pound, 0); got != want {
			t.Errorf("18 pigs leave %s lb %s, want %s", got, season.Cuts[i].Name, want)
		}
	}
	if got := season.Total.Number(unit.Pound, 0); got != "3021" {
		t.Errorf("18 pigs leave %s lb, want 3021", got)
	}
	// S-10: 3 pigs leave 503.5 lb, not 4 pigs' 671.4.
	if a, b := p.Leaves(p.ForecastSides(6)).Total.Number(unit.Pound, 1), p.Leaves(p.ForecastSides(8)).Total.Number(unit.Pound, 1); a != "503.5" || b != "671.4" {
		t.Errorf("3 pigs leave %s, 4 pigs %s", a, b)
	}
}

// Weight in is weight out, to the nanogram, for any profile and any side.
func TestNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Profile{Shrink: draw(t, "shrink", 200_000), Belly: draw(t, "belly", 300_000),
			Squaring: draw(t, "squaring", 400_000), Skin: draw(t, "skin", 400_000)}
		for range rapid.IntRange(0, 8).Draw(t, "cuts") {
			p.Rest = append(p.Rest, CutShare{"cut", draw(t, "share", 90_000)})
		}
		side := unit.Weight(rapid.Int64Range(0, int64(400*unit.Pound)).Draw(t, "side"))
		b := p.Break(side)
		sum := b.Belly + b.Unlisted
		for _, c := range b.Cuts {
			if c.Weight < 0 {
				t.Fatalf("%+v", b)
			}
			sum += c.Weight
		}
		if sum != side {
			t.Fatalf("side %s breaks into %s", side, sum)
		}
		rule := SlabRule{Mode(rapid.IntRange(0, 1).Draw(t, "mode")), 4 * unit.Pound,
			4*unit.Pound + unit.Weight(rapid.Int64Range(0, int64(4*unit.Pound)).Draw(t, "band")), 5 * unit.Pound}
		for _, skin := range []Skin{Skinless, SkinOn} {
			c := p.CutBelly(rule, b.Belly, skin)
			s := c.Slabs
			if c.Squaring+c.SkinOff+c.Net != b.Belly {
				t.Fatalf("belly %+v", c)
			}
			if unit.Weight(s.Count)*s.Each+s.Left != c.Net || s.Left < 0 {
				t.Fatalf("slabs %+v of %s", s, c.Net)
			}
			if s.Mode == Equal && (s.Left >= unit.Weight(s.Count) || s.Each+1 < rule.Min || s.Each > rule.Max) {
				t.Fatalf("equal %+v", s)
			}
			if s.Mode == Equal && unit.Weight(s.Count+1)*rule.Min <= c.Net && c.Net <= unit.Weight(s.Count+1)*rule.Max {
				t.Fatalf("%d slabs, one more would fit", s.Count)
			}
		}
		if on, off := p.CutBelly(rule, b.Belly, SkinOn), p.CutBelly(rule, b.Belly, Skinless); on.Net < off.Net {
			t.Fatalf("skin-on nets less: %v %v", on, off)
		}
	})
}

func draw(t *rapid.T, name string, max int64) unit.Ratio {
	return unit.Ratio(rapid.Int64Range(0, max).Draw(t, name))
}

func TestProfileCheck(t *testing.T) {
	if f := Example().Check(); f != nil {
		t.Errorf("the example is wrong: %v", f)
	}
	bad := Profile{HCW: -1, Shrink: unit.One, Squaring: 600_000, Skin: 400_000, Belly: 200_000,
		Rest: []CutShare{{"", 100_000}, {"ham", 900_000}}}
	err := bad.Check().Err()
	for _, want := range []string{"hcw:", "shrink:", "skin: squaring and skin", "rest[0].cut:", "rest: belly and cuts add up to 120 %"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Check = %v, lacks %q", err, want)
		}
	}
	if f := (SlabRule{Min: 2 * unit.Pound, Max: unit.Pound}).Check(); len(f) != 2 {
		t.Errorf("empty rule: %v", f)
	}
}
