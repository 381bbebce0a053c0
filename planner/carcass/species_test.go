package carcass

import (
	"fmt"
	"testing"

	"flitchbook/planner/unit"
)

// pcts makes cut shares from "name", hundredths of a per cent pairs.
func pcts(pairs ...any) []CutShare {
	var cuts []CutShare
	for i := 0; i < len(pairs); i += 2 {
		cuts = append(cuts, CutShare{pairs[i].(string), unit.RatioOf(pairs[i+1].(float64) / 100)})
	}
	return cuts
}

func cutsAre(t *testing.T, id string, p Profile, whole float64, want ...float64) {
	t.Helper()
	b := p.Break(lbs(whole))
	if len(b.Cuts) != len(want) {
		t.Fatalf("%s: %d cuts, want %d", id, len(b.Cuts), len(want))
	}
	for i, w := range want {
		near(t, id+" "+b.Cuts[i].Name, b.Cuts[i].Weight, lbs(w))
	}
}

// yields holds a printed ratio (to a tenth of a per cent) against its two weights.
func yields(t *testing.T, id string, part, whole, percent float64) {
	t.Helper()
	if got, want := CuttingYield(lbs(part), lbs(whole)).Pct(1), fmt.Sprintf("%.1f %%", percent); got != want {
		t.Errorf("%s: %v of %v is %s, want %s", id, part, whole, got, want)
	}
}

// Rows E-L1 to E-L3. Sources: E-L1 University of Wisconsin worked example, copied on a
// farm page [read-2nd], printed 70, 68, 48; E-L2, E-L3 computed on the cutting test of
// "Handbook on Cutting Lamb" [read].
func TestLambRows(t *testing.T) {
	c := FromLive(lbs(130), 54*unit.Percent, 3*unit.Percent)
	near(t, "E-L1 hot", c.Hot, lbs(70.20))
	near(t, "E-L1 cold", c.Cold, lbs(68.09))
	near(t, "E-L1 home", c.Cold.Share(70*unit.Percent), lbs(47.67))

	split := Profile{Rest: pcts("legs", 32., "loin", 13., "rack", 11., "shoulders", 23., "breast, shank, neck", 21.)}
	boneless := Profile{Rest: pcts("loin", 13*.54, "rack", 11*.60, "shoulder", 23*.69, "breast, shank, neck", 21*.38)}
	cutsAre(t, "E-L2", split, 62, 19.84, 8.06, 6.82, 14.26, 13.02)
	cutsAre(t, "E-L2 boneless", boneless, 62, 4.35, 4.09, 9.84, 4.95)
	cutsAre(t, "E-L3", split, 68, 21.76, 8.84, 7.48, 15.64, 14.28)
	cutsAre(t, "E-L3 boneless", boneless, 68, 4.77, 4.49, 10.79, 5.43)
}

// Rows E-G1, E-G2. Sources: Cornell Small Farms, "Distribution of Retail Cuts in a
// Weaned Boer Market Kid", 2009, one kid [read]; Western Maryland goat test, carcass
// report 2010 [read].
func TestGoatRows(t *testing.T) {
	b := CheckBalance(lbs(31.0), lbs(6), lbs(2.6), lbs(2.2), lbs(2.2), lbs(2), lbs(7.4), lbs(4), lbs(4.6))
	near(t, "E-G1 cuts", b.Parts, lbs(31.0))
	yields(t, "E-G1 dressing", 39.5, 77, 51.3)
	yields(t, "E-G1 cutting", 31, 39.5, 78.5) // printed 78.4
	yields(t, "E-G1 of live", 31, 77, 40.3)
	yields(t, "E-G2 ratio of means", 27.4, 57.2, 47.9) // the report prints 48.1, the mean of ten ratios
}

// Rows E-B1 to E-B9. Sources beside each.
func TestBeefRows(t *testing.T) {
	yields(t, "E-B1 dressing", 610, 1000, 61.0) // Oklahoma brochure "How Much Meat?" (steer) [read]
	yields(t, "E-B1 cutting", 430, 610, 70.5)
	yields(t, "E-B1 of live", 430, 1000, 43.0)
	// Same brochure [read]. The printed shares sum to 86 %: shank and the rest are not listed.
	cutsAre(t, "E-B2", Profile{Rest: pcts("round", 24., "sirloin", 9., "short loin", 8., "flank", 4., "rib", 9., "plate", 7., "chuck", 25.)},
		430, 103.2, 38.7, 34.4, 17.2, 38.7, 30.1, 107.5)
	near(t, "E-B3 hot", FromLive(lbs(1300), 62*unit.Percent, 0).Hot, lbs(806)) // beef-council leaflet [read]
	yields(t, "E-B3", 639, 806, 79.3)
	near(t, "E-B3 parts", CheckBalance(lbs(639), lbs(396), lbs(243)).Diff, 0)
	near(t, "E-B4 hot", FromLive(lbs(1200), 625*unit.Percent/10, 0).Hot, lbs(750)) // Alabama Dept. of Agriculture [read]
	yields(t, "E-B4", 527, 750, 70.3)
	yields(t, "E-B4 of live", 527, 1200, 43.9)
	for _, row := range []struct{ w, pct float64 }{{490, 65.3}, {150, 20.0}, {110, 14.7}} { // a processor's page [read]
		yields(t, "E-B5", row.w, 750, row.pct)
	}
	if b := CheckBalance(lbs(750), lbs(490), lbs(150), lbs(110)); b.Note != "" {
		t.Errorf("E-B5: %s", b.Note)
	}
	yields(t, "E-B6", 880, 1400, 62.9) // University of Nebraska BeefWatch, 2020 [read], printed 63

	// Kansas State MF3395 [read], shares of the carcass: the hindquarter with its fat
	// is 47 %, the forequarter the rest. E-B7 and E-B9 computed.
	hind := Profile{Rest: pcts("round", 22., "sirloin", 7., "short loin", 10., "flank", 5., "fat", 3.)}
	for _, row := range []struct {
		id               string
		hot, side, quart float64
		fore             float64
		cuts             []float64
	}{
		{"E-B7", 806, 403, 189.4, 213.6, []float64{88.7, 28.2, 40.3, 20.1, 12.1}},
		{"E-B9", 750, 375, 176.25, 198.75, []float64{82.5, 26.25, 37.5, 18.75, 11.25}},
	} {
		side := FromHot(lbs(row.hot), 0).Side
		near(t, row.id+" side", side, lbs(row.side))
		b := hind.Break(side)
		// Printed to a tenth; 20.15 is printed 20.1.
		tenth := func(got unit.Weight, want float64) bool {
			d := got - lbs(want)
			return max(d, -d) <= unit.Pound/20
		}
		for i, w := range row.cuts {
			if !tenth(b.Cuts[i].Weight, w) {
				t.Errorf("%s %s = %s, want %v", row.id, b.Cuts[i].Name, b.Cuts[i].Weight.LB(), w)
			}
		}
		if !tenth(side-b.Unlisted, row.quart) || !tenth(b.Unlisted, row.fore) {
			t.Errorf("%s: hind %s, fore %s, want %v and %v", row.id, (side - b.Unlisted).LB(), b.Unlisted.LB(), row.quart, row.fore)
		}
	}
	// Missouri Extension "product yield" shares [read], trimmed basis; computed.
	missouri := Profile{Rest: pcts("chuck", 11., "rib", 5., "strip", 4., "sirloin", 5., "rump", 2., "round", 12., "plate, flank, brisket", 12.)}
	cutsAre(t, "E-B8", missouri, 750, 82.5, 37.5, 30, 37.5, 15, 90, 90)
	near(t, "E-B8 all", lbs(750)-missouri.Break(lbs(750)).Unlisted, lbs(382.5))
}

// Rows E-V1 to E-V4. Sources: E-V1 Michigan State University Extension 01600637, 1997
// [read], whose boneless figure for 50 lb is misprinted 24.8; E-V2 to E-V4 University
// of Wyoming B-589R [read-2nd]. The shop takes farmed, inspected deer only; these rows test the arithmetic.
func TestDeerRows(t *testing.T) {
	boneIn := []float64{26.8, 39.0, 45.1, 57.3, 63.4, 69.5, 81.7, 87.8, 93.9, 106.1, 112.2}
	boneless := []float64{24.0, 33.6, 38.4, 48.0, 52.8, 57.6, 67.2, 72.0, 76.8, 86.4, 91.2}
	for i, fd := range []float64{50, 70, 80, 100, 110, 120, 140, 150, 160, 180, 190} {
		near(t, fmt.Sprint("E-V1 boneless of ", fd), lbs(fd).Share(48*unit.Percent), lbs(boneless[i]))
		near(t, fmt.Sprint("E-V1 bone-in of ", fd), lbs(fd).Share(61*unit.Percent)-lbs(3.7), lbs(boneIn[i]))
	}
	yields(t, "E-V2 of field-dressed", 55, 114, 48.2)
	yields(t, "E-V2 of skinned", 55, 114-18, 57.3)
	for _, row := range []struct {
		id                string
		fd, boneless, pct float64
	}{
		{"E-V3", 102, 49, 48.0}, {"E-V3", 150, 72, 48.0}, {"E-V3", 192, 92, 47.9}, {"E-V3", 207, 99, 47.8},
		{"E-V4", 85, 41, 48.2}, {"E-V4", 93, 45, 48.4}, {"E-V4", 102, 49, 48.0}, {"E-V4", 130, 62, 47.7},
	} {
		yields(t, row.id, row.boneless, row.fd, row.pct)
	}
}

// The band includes both its ends (house rule R16: "in 4.25–5.75 lb").
func TestBandEnds(t *testing.T) {
	r := DefaultSlabs()
	for _, row := range []struct {
		net   float64
		count int
		mode  Mode
	}{{5.75, 1, Equal}, {4.25, 1, Equal}, {11.5, 2, Equal}, {12.75, 3, Equal}, {4.24, 0, Fixed}, {5.76, 1, Fixed}, {0, 0, Fixed}} {
		if s := r.Cut(unit.Pound * unit.Weight(row.net*100) / 100); s.Count != row.count || s.Mode != row.mode {
			t.Errorf("%v lb: %d %s, want %d %s", row.net, s.Count, s.Mode, row.count, row.mode)
		}
	}
}
