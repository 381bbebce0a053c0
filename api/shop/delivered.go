package shop

import (
	"fmt"
	"slices"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// DeliveredSide is one piece of a carcass as it hangs in the shop.
type DeliveredSide struct {
	Animal int    // its number within the order
	Which  string // one of the pieces below
	Cold   unit.Weight
}

// The pieces a carcass comes in: two sides, a whole carcass, or four quarters.
const (
	LeftSide, RightSide  = "L", "R"
	WholeCarcass         = "W"
	LeftHind, LeftFore   = "LH", "LF"
	RightHind, RightFore = "RH", "RF"
)

// A Piece is one thing to weigh in.
type Piece struct{ Which, Name string }

// Pieces are what animals of a species are weighed in as: lambs and deer whole, cattle in
// quarters, everything else in sides. Sides are taken of any species.
func Pieces(species string) []Piece {
	switch species {
	case "lamb", "deer":
		return []Piece{{WholeCarcass, "Whole carcass, cold"}}
	case "beef":
		return []Piece{{LeftHind, "Left hindquarter, cold"}, {LeftFore, "Left forequarter, cold"}, {RightHind, "Right hindquarter, cold"}, {RightFore, "Right forequarter, cold"}}
	}
	return []Piece{{LeftSide, "Left side, cold"}, {RightSide, "Right side, cold"}}
}

var sidePieces = []string{LeftSide, RightSide}

// cuttings are the ways one carcass of a species may come.
func cuttings(species string) [][]string {
	own := []string{}
	for _, p := range Pieces(species) {
		own = append(own, p.Which)
	}
	if slices.Equal(own, sidePieces) {
		return [][]string{own}
	}
	return [][]string{own, sidePieces}
}

// usualPiece is what a piece weighs when its side weighs so much.
func usualPiece(which string, side unit.Weight) unit.Weight {
	hind, fore := carcass.Quarters(side)
	switch which {
	case WholeCarcass:
		return 2 * side
	case LeftHind, RightHind:
		return hind
	case LeftFore, RightFore:
		return fore
	}
	return side
}

// CheckDelivered lists everything wrong with the pieces of a delivery: two cold sides
// must find room in the hot carcass, a carcass comes whole or in all of its parts, and
// nothing stands far from the farm's usual cold side.
func CheckDelivered(sides []DeliveredSide, animals []Animal, usual unit.Weight) error {
	var w Wrong
	byNumber := map[int]Animal{}
	for _, a := range animals {
		byNumber[a.Number] = a
	}
	came, sum := map[int][]string{}, map[int]unit.Weight{}
	for _, s := range sides {
		field := fmt.Sprintf("side%d%s", s.Animal, s.Which)
		a, ok := byNumber[s.Animal]
		known := slices.ContainsFunc(cuttings(a.Species), func(c []string) bool { return slices.Contains(c, s.Which) })
		switch {
		case !ok:
			w.Add(field, "The order has no animal number %d.", s.Animal)
		case !known:
			w.Add(field, "%s does not come as %q here.", AnimalOf(a.Species), s.Which)
		case a.Condemned:
			w.Add(field, "Animal %d was condemned: its meat may not come in.", s.Animal)
		case slices.Contains(came[s.Animal], s.Which):
			w.Add(field, "%s of animal %d stands there twice.", s.Which, s.Animal)
		default:
			if text := implausible(s.Cold, usualPiece(s.Which, usual)); text != "" {
				w.Add(field, "%s", text)
			}
		}
		came[s.Animal] = append(came[s.Animal], s.Which)
		sum[s.Animal] += s.Cold
		if ok && a.Hot > 0 && sum[s.Animal] > a.Hot.MulDiv(1005, 1000) {
			w.Add(field, "Cold it weighs %s, the carcass weighed %s hot: weigh again.", sum[s.Animal].LB(), a.Hot.LB())
		}
	}
	for _, a := range animals {
		whole(&w, a, came[a.Number])
	}
	if len(sides) == 0 {
		w.Add("sides", "Write down the weight of at least one animal.")
	}
	return w.Err()
}

// whole notes what is missing of an animal of which something came.
func whole(w *Wrong, a Animal, came []string) {
	if len(came) == 0 {
		return
	}
	ways := cuttings(a.Species)
	i := slices.IndexFunc(ways, func(c []string) bool { return slices.Contains(c, came[0]) })
	if i < 0 {
		return // said above
	}
	for _, which := range ways[i] {
		if !slices.Contains(came, which) {
			w.Add(fmt.Sprintf("side%d%s", a.Number, which), "Its weight is missing.")
		}
	}
	for _, which := range came {
		if !slices.Contains(ways[i], which) {
			w.Add(fmt.Sprintf("side%d%s", a.Number, which), "Write down sides or quarters, not both.")
		}
	}
}
