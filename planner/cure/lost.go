package cure

import (
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// A drained slab weighs this much of its green weight (house rule).
const (
	DrainedLow  = 94 * unit.Percent
	DrainedHigh = 99 * unit.Percent
)

// Missing is a slab that went in and whose tag did not come out.
type Missing struct {
	Tag   string
	Green unit.Weight
	Spice string // on it
	Same  string // pick, cure and ingredient lots: equal when nothing tells two slabs apart for whoever eats them
}

// Found is a piece without a tag.
type Found struct {
	Letter  string
	Drained unit.Weight
	Spice   string // as can be seen; "" when it cannot be told
}

// A Fit is how one found piece stands to one missing slab.
type Fit struct {
	Tag    string
	Share  string // drained of green, "97.2 %"
	Weight bool   // within what a drained slab weighs
	Spice  bool   // nothing seen speaks against it
	May    bool   // it could be this slab, all pieces taken together
}

// A Way is what becomes of a found piece.
type Way string

// The ways.
const (
	Retag   Way = "re-tag" // only one slab it can be
	Draw    Way = "draw"   // several, equal in pick, cure and lots: shared out by draw
	DumpOut Way = "dump"   // none, or several that differ
)

// Told is what the evidence says of one found piece.
type Told struct {
	Found
	Fits   []Fit
	Way    Way
	Tags   []string // the slabs it can be
	Reason string
}

// TellApart weighs the evidence on pieces that lost their tags. in and out are how many
// went into the rinse and came out of it. When they agree every missing slab is among the
// pieces, so a slab that another piece must be is not this one; when they do not, only what
// is seen of a piece itself speaks.
//
// Method: pieces and slabs are the two sides of a graph, an edge where weight and spice
// allow it. An edge that belongs to no pairing of all pieces with all slabs is dropped
// (Berge: it does iff the largest matching without its ends is one smaller). What then hangs
// together is judged together.
func TellApart(found []Found, missing []Missing, in, out int) ([]Told, error) {
	if err := checkLost(found, missing, in, out); err != nil {
		return nil, err
	}
	told := make([]Told, len(found))
	edge := make([][]bool, len(found))
	for i, f := range found {
		told[i].Found, edge[i] = f, make([]bool, len(missing))
		for j, m := range missing {
			fit := Fit{Tag: m.Tag, Share: shareOf(f.Drained, m.Green), Weight: drainedFits(f.Drained, m.Green), Spice: f.Spice == "" || f.Spice == m.Spice}
			edge[i][j] = fit.Weight && fit.Spice
			told[i].Fits = append(told[i].Fits, fit)
		}
	}
	all := len(matching(edge, nil, nil))
	if in == out && all == len(missing) {
		kept := make([][]bool, len(found))
		for i := range edge {
			kept[i] = make([]bool, len(missing))
			for j := range edge[i] {
				kept[i][j] = edge[i][j] && len(matching(edge, []int{i}, []int{j})) == all-1
			}
		}
		edge = kept
	}
	for i := range told {
		for j := range missing {
			told[i].Fits[j].May = edge[i][j]
			if edge[i][j] {
				told[i].Tags = append(told[i].Tags, missing[j].Tag)
			}
		}
	}
	for _, g := range together(edge) {
		way, why := settle(g, missing)
		if way != DumpOut && len(matching(only(edge, g), nil, nil)) < len(g.found) {
			way, why = DumpOut, "more pieces than slabs they can be"
		}
		for _, i := range g.found {
			told[i].Way, told[i].Reason = way, why
		}
	}
	return told, nil
}

func checkLost(found []Found, missing []Missing, in, out int) error {
	switch {
	case len(missing) == 0:
		return errors.New("no tag is missing")
	case out > in:
		return fmt.Errorf("%d came out and only %d went in", out, in)
	case len(missing) > in:
		return fmt.Errorf("%d tags are missing of %d slabs that went in", len(missing), in)
	case len(found) != len(missing)-(in-out):
		return fmt.Errorf("%d went in and %d came out, %d tags are missing: that leaves %d pieces without a tag, not %d", in, out, len(missing), len(missing)-(in-out), len(found))
	}
	seen := map[string]bool{}
	for _, f := range found {
		if f.Letter == "" || seen[f.Letter] {
			return errors.New("give each piece a letter of its own")
		}
		seen[f.Letter] = true
		if f.Drained <= 0 {
			return fmt.Errorf("piece %s has no weight", f.Letter)
		}
	}
	for _, m := range missing {
		if m.Green <= 0 || seen["tag "+m.Tag] {
			return fmt.Errorf("slab %s has no green weight, or stands twice", m.Tag)
		}
		seen["tag "+m.Tag] = true
	}
	return nil
}

// drainedFits compares by cross-multiplication, exactly.
func drainedFits(drained, green unit.Weight) bool {
	s := new(big.Rat).Quo(weight(drained), weight(green))
	return s.Cmp(ratio(DrainedLow)) >= 0 && s.Cmp(ratio(DrainedHigh)) <= 0
}

func shareOf(drained, green unit.Weight) string {
	s := mul(new(big.Rat).Quo(weight(drained), weight(green)), big.NewRat(100, 1))
	text := s.FloatString(1)
	if text+" %" == DrainedLow.Pct(1) || text+" %" == DrainedHigh.Pct(1) {
		text = strings.TrimRight(s.FloatString(4), "0") // so that it does not read as what is allowed
		text = strings.TrimSuffix(text, ".")
	}
	return text + " %"
}

// matching is a largest pairing, found index to missing index, leaving out the given ends.
func matching(edge [][]bool, skipFound, skipMissing []int) map[int]int {
	of := map[int]int{} // missing to found
	var place func(i int, seen map[int]bool) bool
	place = func(i int, seen map[int]bool) bool {
		for j, ok := range edge[i] {
			if !ok || seen[j] || slices.Contains(skipMissing, j) {
				continue
			}
			seen[j] = true
			if k, taken := of[j]; !taken || place(k, seen) {
				of[j] = i
				return true
			}
		}
		return false
	}
	for i := range edge {
		if !slices.Contains(skipFound, i) {
			place(i, map[int]bool{})
		}
	}
	out := map[int]int{}
	for j, i := range of {
		out[i] = j
	}
	return out
}

// A group is pieces and slabs that hang together.
type group struct{ found, missing []int }

func together(edge [][]bool) []group {
	var out []group
	seenF, seenM := map[int]bool{}, map[int]bool{}
	for i := range edge {
		if seenF[i] {
			continue
		}
		g, walk := group{}, []int{i}
		seenF[i] = true
		for len(walk) > 0 {
			k := walk[0]
			walk = walk[1:]
			g.found = append(g.found, k)
			for j, ok := range edge[k] {
				if !ok || seenM[j] {
					continue
				}
				seenM[j] = true
				g.missing = append(g.missing, j)
				for l := range edge {
					if edge[l][j] && !seenF[l] {
						seenF[l] = true
						walk = append(walk, l)
					}
				}
			}
		}
		out = append(out, g)
	}
	return out
}

func only(edge [][]bool, g group) [][]bool {
	out := make([][]bool, len(edge))
	for i := range edge {
		out[i] = make([]bool, len(edge[i]))
		if slices.Contains(g.found, i) {
			copy(out[i], edge[i])
		}
	}
	return out
}

func settle(g group, missing []Missing) (Way, string) {
	switch {
	case len(g.missing) == 0:
		return DumpOut, "it can be none of the missing slabs"
	case len(g.found) == 1 && len(g.missing) == 1:
		return Retag, "it can only be " + missing[g.missing[0]].Tag
	}
	var tags []string
	for _, j := range g.missing {
		if missing[j].Same != missing[g.missing[0]].Same {
			return DumpOut, "it can be slabs that differ in pick, cure or lots"
		}
		tags = append(tags, missing[j].Tag)
	}
	slices.Sort(tags)
	return Draw, "it can be " + strings.Join(tags, " or ") + ", equal in pick, cure and lots"
}

// ShareOut gives pieces to slabs: letter to tag, each tag once. What can be several slabs is
// drawn; draw(n) is any number from 0 to n-1. Of slabs a piece can be, only those are in
// the draw that leave every other piece one.
func ShareOut(told []Told, draw func(n int) int) map[string]string {
	tags := []string{}
	for _, t := range told {
		for _, f := range t.Fits {
			if !slices.Contains(tags, f.Tag) {
				tags = append(tags, f.Tag)
			}
		}
	}
	edge := make([][]bool, len(told))
	pieces := 0
	for i, t := range told {
		edge[i] = make([]bool, len(tags))
		if t.Way == DumpOut {
			continue
		}
		pieces++
		for _, tag := range t.Tags {
			edge[i][slices.Index(tags, tag)] = true
		}
	}
	out := map[string]string{}
	var doneF, doneM []int
	for i, t := range told {
		if t.Way == DumpOut {
			continue
		}
		pieces--
		var may []int
		for j, ok := range edge[i] {
			if ok && !slices.Contains(doneM, j) && len(matching(edge, append(slices.Clone(doneF), i), append(slices.Clone(doneM), j))) == pieces {
				may = append(may, j)
			}
		}
		j := may[0]
		if len(may) > 1 {
			j = may[draw(len(may))]
		}
		out[t.Letter] = tags[j]
		doneF, doneM = append(doneF, i), append(doneM, j)
	}
	return out
}

// CheckShared holds a sharing out against the rule, apart from how it was found: each tag
// once, drained weight and spice right for every piece, and where a piece could have been
// another slab that is alive in the draw, that slab is its equal.
func CheckShared(found []Found, missing []Missing, shared map[string]string) error {
	slab, piece := map[string]Missing{}, map[string]Found{}
	for _, m := range missing {
		slab[m.Tag] = m
	}
	for _, f := range found {
		piece[f.Letter] = f
	}
	given := map[string]string{}
	for letter, tag := range shared {
		f, ok := piece[letter]
		m, known := slab[tag]
		if !ok || !known {
			return fmt.Errorf("piece %q is given to %q, and one of them is not there", letter, tag)
		}
		if other, twice := given[tag]; twice {
			return fmt.Errorf("%s is given to %s and %s", tag, other, letter)
		}
		given[tag] = letter
		if f.Drained*100 < m.Green*94 || f.Drained*100 > m.Green*99 {
			return fmt.Errorf("piece %s weighs %s, which a drained %s of %s cannot", letter, f.Drained.LB(), tag, m.Green.LB())
		}
		if f.Spice != "" && f.Spice != m.Spice {
			return fmt.Errorf("piece %s bears %s and %s bears %s", letter, f.Spice, tag, m.Spice)
		}
	}
	// Two pieces that could trade places must be equals.
	for a, ta := range shared {
		for b, tb := range shared {
			if a >= b || slab[ta].Same == slab[tb].Same {
				continue
			}
			fits := func(letter, tag string) bool {
				f, m := piece[letter], slab[tag]
				return f.Drained*100 >= m.Green*94 && f.Drained*100 <= m.Green*99 && (f.Spice == "" || f.Spice == m.Spice)
			}
			if fits(a, tb) && fits(b, ta) {
				return fmt.Errorf("pieces %s and %s could as well be the other way round, and %s and %s differ", a, b, ta, tb)
			}
		}
	}
	return nil
}
