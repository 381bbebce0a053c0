package carcass

import (
	"strings"
	"testing"

	"flitchbook/planner/unit"
)

// Every source names itself, its tag and its bases, and no cut list adds up to more
// than its whole and half a per cent. Sums that the sources' own figures give are
// written beside them.
func TestPublishedIsWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range AllPublished() {
		if p.Key == "" || seen[p.Key] || p.Source == "" || p.Tag == "" || p.Species == "" || p.Animal == "" || p.Skin == "" || p.Head == "" {
			t.Errorf("%+v lacks something or stands there twice", p)
		}
		seen[p.Key] = true
		if len(p.Figures) == 0 && len(p.Cuts) == 0 && p.Shrink == 0 {
			t.Errorf("%s says nothing", p.Key)
		}
		for _, f := range p.Figures {
			if f.Name == "" || f.Of == "" || f.Low <= 0 || f.Low > f.High || f.High > unit.One {
				t.Errorf("%s: figure %+v", p.Key, f)
			}
		}
		if (len(p.Cuts) > 0) != (p.Of != "") && p.Key != "goat-cornell" {
			t.Errorf("%s: cuts without their base", p.Key)
		}
		if sum := p.Sum(); sum.Low > unit.One+Tolerance {
			t.Errorf("%s adds up to %s", p.Key, sum)
		}
		if back, ok := PublishedFor(p.Key); !ok || back.Source != p.Source {
			t.Errorf("%s is not found by its key", p.Key)
		}
	}
	if _, ok := PublishedFor("pork"); ok {
		t.Error("a key nobody gave was found")
	}
	for key, want := range map[string]string{ // sums printed or worked by hand from the printed list
		"pork-oklahoma": "80 %", "pork-missouri": "83 %", "pork-tas-light": "85.34 %", "pork-tas-average": "88.81 %", "lamb-handbook": "100 %",
		"lamb-missouri": "76 %", "beef-mf3395": "100 %", "beef-missouri": "51 %",
	} {
		p, _ := PublishedFor(key)
		if got := p.Sum(); !got.Single() || distance(got.Low, must(unit.ParseRatio(want))) > 3 { // parts of 180 lb are rounded to a millionth
			t.Errorf("%s adds up to %s, want %s", key, got, want)
		}
	}
}

func must(r unit.Ratio, err error) unit.Ratio {
	if err != nil {
		panic(err)
	}
	return r
}

// E-P7 through the published table: side 90.32 lb by the average class of TAS 2017
// [read], computed; and what cannot be a profile says why.
func TestPublishedProfile(t *testing.T) {
	tas, _ := PublishedFor("pork-tas-average")
	p, err := tas.Profile()
	if err != nil {
		t.Fatal(err)
	}
	b := p.Break(lbs(90.32))
	near(t, "belly", b.Belly, lbs(14.45))
	near(t, "ham", b.Cuts[0].Weight, lbs(23.10))
	if p.Source != "Translational Animal Science 1(1):77–89, table 2, 2017 [read]" {
		t.Errorf("source %q", p.Source)
	}
	// The NPPC chart [read]: 184 lb, ham 45.0, loin 33.8, butt 14.7, picnic 16.6.
	nppc, _ := PublishedFor("pork-nppc")
	if p, err = nppc.Profile(); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{45.0, 33.8, 14.7, 16.6, 5.8} {
		near(t, "NPPC "+p.Rest[i].Cut, (184 * unit.Pound).Share(p.Rest[i].Share), lbs(want))
	}
	// The belly of the chart is its side without the ribs: 34.9 − 5.8 lb.
	near(t, "NPPC belly", (184 * unit.Pound).Share(p.Belly), lbs(29.1))
	for key, want := range map[string]string{"pork-usda-2019": "a band and no figure", "pork-kentucky": "prints no list of cuts"} {
		s, _ := PublishedFor(key)
		if _, err := s.Profile(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", key, err, want)
		}
	}
	// Rib-off bellies of the studies: 6.64 kg untrimmed less 18.2 % ribs and 4.2 % squaring
	// is the printed 5.17 kg (J. Anim. Sci. 1980 [read]; recomputed 5.15).
	ribOff := unit.WeightOfGrams(6640).Share(unit.One - 182*unit.Percent/10)
	net := Profile{Squaring: bellyTrims().squaring, Skin: bellyTrims().skin}.CutBelly(DefaultSlabs(), ribOff, SkinOn).Net
	if got := net.Grams(); got < 5145 || got > 5175 {
		t.Errorf("trimmed green belly %.0f g, printed 5170", got)
	}
}

// E-V5 [read-2nd]: 125 lb field-dressed is 160.0 or 177.6 lb live. Without a definition
// nothing is converted.
func TestFieldDressed(t *testing.T) {
	if w, err := LiveOf(lbs(125), DressedUndefined); err != ErrDefinition || w != 0 {
		t.Errorf("E-V5: %s, %v; want a refusal", w, err)
	}
	for d, want := range map[FieldDressed]string{DressedGutsOut: "160.0", DressedGutsFeet: "177.6"} {
		if w, err := LiveOf(lbs(125), d); err != nil || w.Number(unit.Pound, 1) != want {
			t.Errorf("E-V5 %s: %s, %v, want %s", d, w.LB(), err, want)
		}
	}
}
