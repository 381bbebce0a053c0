package table

import (
	"errors"
	"testing"

	"flitchbook/planner/unit"
)

func pct(tenths int64) unit.Ratio { return unit.Ratio(tenths) * unit.Percent / 10 }

// Losses from "Experimental Cookery" (textbook), table of average losses [read]; a dinner
// portion of 5–6 oz cooked and a tasting of 3 oz [common practice]. The pounds are
// worked by hand: 12 × 6 = 72 oz; 72 ÷ 0.737 = 97.69 oz = 6.11 lb.
func TestRaw(t *testing.T) {
	for _, tc := range []struct {
		row        string
		guests     int
		ounces     unit.Weight
		loss, trim unit.Ratio
		raw, aHead string
	}{
		{"E-M1 boneless pork loin", 12, 6, pct(263), unit.One, "6.11 lb", "8.14"},
		{"E-M2 leg of lamb", 18, 5, pct(280), pct(800), "9.77 lb", "8.68"},
		{"E-M3 ham", 24, 6, pct(256), pct(850), "14.23 lb", "9.49"},
		{"E-M6 tasting of pork loin", 20, 3, pct(263), unit.One, "5.09 lb", "4.07"},
	} {
		p, err := Roast{Loss: tc.loss, Trim: tc.trim}.Buy(tc.guests, tc.ounces*unit.Ounce)
		if err != nil {
			t.Errorf("%s: %v", tc.row, err)
			continue
		}
		if p.Raw.LB() != tc.raw || p.AHead.Number(unit.Ounce, 2) != tc.aHead {
			t.Errorf("%s: %s, %s oz a head; want %s, %s oz", tc.row, p.Raw.LB(), p.AHead.Number(unit.Ounce, 2), tc.raw, tc.aHead)
		}
	}
}

// TestRawLeavesTheCookedWeight goes the way back: what is bought, trimmed and roasted is
// the portions on the plates, to within the rounding of one nanogram blown up by trim.
func TestRawLeavesTheCookedWeight(t *testing.T) {
	for _, r := range Roasts() {
		for guests := 0; guests <= 40; guests++ {
			p, err := r.Buy(guests, 6*unit.Ounce)
			if err != nil {
				t.Fatal(err)
			}
			cooked := p.Raw.Share(r.Trim).Share(unit.One - r.Loss)
			if d := cooked - 6*unit.Ounce*unit.Weight(guests); d < -3 || d > 3 {
				t.Errorf("%s for %d: %d ng off", r.Name, guests, d)
			}
		}
	}
}

// "Experimental Cookery" (textbook): weights in and out, and the loss it prints [read].
// E-M4: nine pork loins pooled lose 24.4 %; the printed 26.3 % is the mean of nine.
func TestLoss(t *testing.T) {
	for _, tc := range []struct {
		row          string
		inLB, inOz   unit.Weight
		outLB, outOz unit.Weight
		want         string
	}{
		{"E-M4 pork loin, pooled", 74, 5, 56, 3, "24.4 %"},
		{"E-M5 ham", 126, 15, 94, 7, "25.6 %"},
		{"E-M5 veal leg", 107, 2, 76, 1, "29.0 %"},
	} {
		got, err := Loss(tc.inLB*unit.Pound+tc.inOz*unit.Ounce, tc.outLB*unit.Pound+tc.outOz*unit.Ounce)
		if err != nil || got.Pct(1) != tc.want {
			t.Errorf("%s: %s, %v; want %s", tc.row, got.Pct(1), err, tc.want)
		}
	}
	// E-M4: which of the two is kept, and that it says so.
	r, ok := RoastFor("pork")
	if !ok || r.Loss != pct(263) || r.Basis != "printed mean of the losses of nine roasts" {
		t.Errorf("pork: %+v, %v", r, ok)
	}
	if _, err := Loss(unit.Pound, 2*unit.Pound); err == nil {
		t.Error("meat that grew in the oven")
	}
	if _, err := Loss(0, 0); err == nil {
		t.Error("nothing roasted")
	}
}

func TestRawRefuses(t *testing.T) {
	for name, tc := range map[string]struct {
		guests     int
		cooked     unit.Weight
		loss, trim unit.Ratio
		fields     int
	}{
		"fewer than nobody": {-1, 6 * unit.Ounce, pct(263), unit.One, 1},
		"no portion":        {8, 0, pct(263), unit.One, 1},
		"a portion of 6 lb": {8, 6 * unit.Pound, pct(263), unit.One, 1},
		"all lost":          {8, 6 * unit.Ounce, unit.One, unit.One, 1},
		"trimmed to none":   {8, 6 * unit.Ounce, pct(263), 0, 1},
		"everything wrong":  {2000, -1, -1, 2 * unit.One, 4},
	} {
		_, err := Raw(tc.guests, tc.cooked, tc.loss, tc.trim)
		var f unit.Faults
		if !errors.As(err, &f) || len(f) != tc.fields {
			t.Errorf("%s: %v, want %d faults", name, err, tc.fields)
		}
	}
}

func TestRoastForSpecies(t *testing.T) {
	for species, want := range map[string]string{"pork": "boneless pork loin", "lamb": "leg of lamb", "beef": "boneless rib of beef, medium", "deer": "boneless leg of deer", "": ""} {
		r, ok := RoastFor(species)
		if r.Name != want || ok != (want != "") {
			t.Errorf("%q: %q, %v", species, r.Name, ok)
		}
	}
	if len(Roasts()) != 5 {
		t.Errorf("%d roasts", len(Roasts()))
	}
	// A dinner may be of another animal: the species' own come first, none is left out.
	for species, want := range map[string]string{"pork": "boneless pork loin", "deer": "boneless leg of deer", "": "boneless pork loin"} {
		if all := RoastsFor(species); len(all) != len(Roasts()) || all[0].Name != want {
			t.Errorf("%q: %v, want %s first", species, all, want)
		}
	}
}

// What of its cut a roast is: boneless loin 10.7 of a 33.8 lb loin (National Pork Producers
// Council, hog carcass breakdown: 31.7 %), oven-ready rib 22 lb of 38 lb 12 oz (textbook
// cutting test: 56.8 %).
func TestOfCut(t *testing.T) {
	for name, want := range map[string]unit.Ratio{
		"boneless pork loin":           (unit.Pound * 107 / 10).RatioOf(unit.Pound * 338 / 10),
		"boneless rib of beef, medium": (22 * unit.Pound).RatioOf(38*unit.Pound + 12*unit.Ounce),
	} {
		for _, r := range Roasts() {
			if r.Name == name && r.OfCut.Pct(1) != want.Pct(1) {
				t.Errorf("%s is %s of its cut, want %s", name, r.OfCut.Pct(1), want.Pct(1))
			}
		}
	}
}
