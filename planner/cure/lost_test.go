package cure

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

func pounds(t testing.TB, s string) unit.Weight {
	t.Helper()
	w, err := unit.ParseWeight(s + " lb")
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Three slabs without tags; the shop's rule R35 and its worked example S-07, shares
// reckoned by hand: 4.90/5.04, 4.90/4.37, 4.90/4.40 and so on.
func threeSlabs(t testing.TB, third string) []Missing {
	same := func(jar string) string { return jar + ", cure 1, lots 3 5 9" }
	return []Missing{
		{"B5-02", pounds(t, "5.04"), "MH", same("MH")},
		{"B5-03", pounds(t, "4.37"), "PB", same("PB")},
		{"B5-07", pounds(t, "4.40"), third, same(third)},
	}
}

func threePieces(t testing.TB, spice string) []Found {
	return []Found{{"X", pounds(t, "4.90"), "MH"}, {"Y", pounds(t, "4.26"), spice}, {"Z", pounds(t, "4.25"), spice}}
}

func TestThreeSlabsWithoutTags(t *testing.T) {
	missing, found := threeSlabs(t, "PB"), threePieces(t, "PB")
	told, err := TellApart(found, missing, 11, 11)
	if err != nil {
		t.Fatal(err)
	}
	want := [][3]string{{"97.2 %", "112.1 %", "111.4 %"}, {"84.5 %", "97.5 %", "96.8 %"}, {"84.3 %", "97.3 %", "96.6 %"}}
	ways := []string{"re-tag [B5-02]", "draw [B5-03 B5-07]", "draw [B5-03 B5-07]"}
	for i, d := range told {
		for j, f := range d.Fits {
			if f.Share != want[i][j] {
				t.Errorf("%s of %s: %s, want %s", d.Letter, f.Tag, f.Share, want[i][j])
			}
		}
		if got := fmt.Sprint(d.Way, " ", d.Tags); got != ways[i] {
			t.Errorf("%s: %s (%s), want %s", d.Letter, got, d.Reason, ways[i])
		}
	}
	for k, pair := range []string{"B5-03 B5-07", "B5-07 B5-03"} {
		shared := ShareOut(told, func(n int) int {
			if n != 2 {
				t.Errorf("drawn among %d", n)
			}
			return k
		})
		if got := shared["Y"] + " " + shared["Z"]; shared["X"] != "B5-02" || got != pair {
			t.Errorf("draw %d: %v", k, shared)
		}
		if err := CheckShared(found, missing, shared); err != nil {
			t.Error(err)
		}
	}
}

// B5-07 bore GP, rubbed off in the rinse: nothing tells Y from Z, and they differ.
func TestSlabsThatDifferAreDumped(t *testing.T) {
	told, err := TellApart(threePieces(t, ""), threeSlabs(t, "GP"), 11, 11)
	if err != nil {
		t.Fatal(err)
	}
	if told[0].Way != Retag || told[1].Way != DumpOut || told[2].Way != DumpOut || !strings.Contains(told[1].Reason, "differ") {
		t.Errorf("%s %s %s: %s", told[0].Way, told[1].Way, told[2].Way, told[1].Reason)
	}
	if shared := ShareOut(told, func(int) int { return 0 }); len(shared) != 1 || shared["X"] != "B5-02" {
		t.Errorf("shared %v", shared)
	}
	// Seen as PB both, one of them is not what it seems: neither may be sold as it.
	told, err = TellApart(threePieces(t, "PB"), threeSlabs(t, "GP"), 11, 11)
	if err != nil || told[1].Way != DumpOut || told[2].Way != DumpOut {
		t.Errorf("two PB seen where one was: %v, %v", told, err)
	}
	if err := CheckShared(threePieces(t, ""), threeSlabs(t, "GP"), map[string]string{"X": "B5-02", "Y": "B5-03", "Z": "B5-07"}); err == nil {
		t.Error("the check lets slabs that differ be shared out")
	}
}

// Evidence at its edges, and what counts say.
func TestLostTagsAtTheEdges(t *testing.T) {
	ten := pounds(t, "10")
	for _, c := range []struct {
		drained string
		way     Way
	}{{"9.40", Retag}, {"9.90", Retag}, {"9.39", DumpOut}, {"9.91", DumpOut}} {
		told, err := TellApart([]Found{{"X", pounds(t, c.drained), ""}}, []Missing{{"A", ten, "PB", ""}}, 4, 4)
		if err != nil || told[0].Way != c.way {
			t.Errorf("%s of 10 lb: %v, %v; want %s", c.drained, told[0].Way, err, c.way)
		}
	}
	// By what is left: X can be A or B, Y only A. When all came out, X is B.
	a, b := Missing{"A", ten, "PB", "one"}, Missing{"B", pounds(t, "9.80"), "GP", "two"}
	x, y := Found{"X", pounds(t, "9.65"), ""}, Found{"Y", pounds(t, "9.60"), "PB"}
	told, err := TellApart([]Found{x, y}, []Missing{a, b}, 6, 6)
	if err != nil || told[0].Way != Retag || told[0].Tags[0] != "B" || told[1].Tags[0] != "A" {
		t.Errorf("by what is left: %+v, %v", told, err)
	}
	// When one is gone for good, that does not follow.
	told, err = TellApart([]Found{x}, []Missing{a, b}, 6, 5)
	if err != nil || told[0].Way != DumpOut {
		t.Errorf("one of two gone: %+v, %v", told, err)
	}
	for _, c := range []struct {
		found   []Found
		in, out int
	}{{[]Found{x}, 6, 6}, {[]Found{x, y}, 6, 5}, {[]Found{x, y}, 5, 6}, {[]Found{x, x}, 6, 6}, {[]Found{x, {"Y", 0, ""}}, 6, 6}} {
		if _, err := TellApart(c.found, []Missing{a, b}, c.in, c.out); err == nil {
			t.Errorf("%d pieces, %d in, %d out: no complaint", len(c.found), c.in, c.out)
		}
	}
}

// Whatever the evidence, what is shared out passes the check, and no tag is given twice.
func TestLostTagsLaws(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(r, "n")
		var missing []Missing
		var found []Found
		for i := range n {
			jar := rapid.SampledFrom([]string{"PB", "GP"}).Draw(r, "jar")
			g := unit.Weight(rapid.IntRange(425, 575).Draw(r, "green")) * unit.Pound / 100
			missing = append(missing, Missing{fmt.Sprintf("T-%02d", i), g, jar, jar + rapid.SampledFrom([]string{"", " other lot"}).Draw(r, "lot")})
			seen := rapid.SampledFrom([]string{"", jar}).Draw(r, "seen")
			found = append(found, Found{string(rune('A' + i)), g.MulDiv(int64(rapid.IntRange(940, 990).Draw(r, "drained")), 1000).Round(unit.Pound / 100), seen})
		}
		gone := rapid.IntRange(0, min(1, n-1)).Draw(r, "gone")
		found = found[gone:]
		told, err := TellApart(found, missing, 12, 12-gone)
		if err != nil {
			r.Fatal(err)
		}
		shared := ShareOut(told, func(n int) int { return rapid.IntRange(0, n-1).Draw(r, "drawn") })
		if err := CheckShared(found, missing, shared); err != nil {
			r.Fatalf("%v: %v", err, told)
		}
		for _, d := range told {
			if _, ok := shared[d.Letter]; ok != (d.Way != DumpOut) {
				r.Fatalf("%s is %s and shared %v", d.Letter, d.Way, ok)
			}
		}
	})
}
