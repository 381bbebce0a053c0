package shop

import (
	"slices"
	"testing"

	"flitchbook/planner/unit"
)

// How a carcass may come: pigs in sides, lambs and deer whole or in sides, cattle in four
// quarters or in sides; never half of it, never two ways at once. The quarters' usual
// weights are 48 and 52 % of a beef side ("Types and Market Classes of Live Stock").
func TestCheckDelivered(t *testing.T) {
	lb := func(n int64) unit.Weight { return unit.Weight(n) * unit.Pound }
	for _, r := range []struct {
		what, species string
		hot, usual    int64 // of the carcass; of a side
		came          map[string]int64
		wrong         []string // fields
	}{
		{"a pig in sides", "pork", 206, 100, map[string]int64{"L": 100, "R": 99}, nil},
		{"a pig whole", "pork", 206, 100, map[string]int64{"W": 199}, []string{"side1W"}},
		{"a pig in quarters", "pork", 206, 100, map[string]int64{"LH": 50, "LF": 50, "RH": 50, "RF": 49}, []string{"side1LF", "side1LH", "side1RF", "side1RH"}},
		{"a lamb whole", "lamb", 61, 30, map[string]int64{"W": 59}, nil},
		{"a lamb in sides", "lamb", 61, 30, map[string]int64{"L": 29, "R": 30}, nil},
		{"half a lamb", "lamb", 61, 30, map[string]int64{"L": 29}, []string{"side1R"}},
		{"a lamb whole and a side of it", "lamb", 61, 30, map[string]int64{"W": 30, "L": 29}, []string{"side1L"}},
		{"a deer whole", "deer", 112, 54, map[string]int64{"W": 108}, nil},
		{"a lamb of 300 lb", "lamb", 0, 30, map[string]int64{"W": 300}, []string{"side1W"}},
		{"beef in quarters", "beef", 742, 364, map[string]int64{"LH": 171, "LF": 186, "RH": 173, "RF": 188}, nil},
		{"beef in sides", "beef", 742, 364, map[string]int64{"L": 358, "R": 361}, nil},
		{"three quarters", "beef", 742, 364, map[string]int64{"LH": 171, "LF": 186, "RH": 173}, []string{"side1RF"}},
		{"a quarter of 400 lb", "beef", 0, 364, map[string]int64{"LH": 400, "LF": 186, "RH": 173, "RF": 188}, []string{"side1LH"}},
		{"heavier cold than hot", "beef", 700, 364, map[string]int64{"L": 358, "R": 361}, []string{"side1R"}},
	} {
		var in []DeliveredSide
		for _, which := range []string{"W", "L", "R", "LH", "LF", "RH", "RF"} {
			if n, ok := r.came[which]; ok {
				in = append(in, DeliveredSide{Animal: 1, Which: which, Cold: lb(n)})
			}
		}
		var got []string
		if e, ok := AsError(CheckDelivered(in, []Animal{{Number: 1, Species: r.species, Hot: lb(r.hot)}}, lb(r.usual))); ok {
			for f := range e.Fields {
				got = append(got, f)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, r.wrong) {
			t.Errorf("%s: complaints at %v, want %v", r.what, got, r.wrong)
		}
	}
}
