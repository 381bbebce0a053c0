package demand

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// Shortage is a delivery that gives fewer slabs than a class wants, and what there
// is to close the gap with.
type Shortage struct {
	Profile carcass.Profile
	Rule    carcass.SlabRule
	Wanted  int            // slabs
	Sides   []carcass.Side // delivered, with their real cold weights
	Demos   int            // of the wanted slabs, the shop's own
	Free    int            // slabs of the same delivery that nobody claims
	Unsold  []Unsold       // seats not sold of other classes fed by the same delivery
	Frozen  []Frozen
	Now     unit.Instant // with Start, whether frozen meat thaws in time
	Start   unit.Instant // of the class
	ThawPer unit.Weight  // thawed in 24 h; 0 = 5 lb
}

// Unsold is a class whose unsold seats have slabs coming.
type Unsold struct {
	Code  string
	Start unit.Instant
	Seats int
}

// Frozen is a rib-off belly in the freezer.
type Frozen struct {
	Tag    string
	Weight unit.Weight
	Skin   carcass.Skin
}

// Remedy is a kind of way out, in the order they are offered.
type Remedy string

// The remedies, least harm first. The last two touch people: the shop asks, it does
// not reckon how many would say yes.
const (
	DropDemo   Remedy = "drop demo"
	LeaveSkin  Remedy = "skin on"
	TakeFree   Remedy = "free slabs"
	TakeUnsold Remedy = "unsold seats"
	Thaw       Remedy = "thaw"
	AskToMove  Remedy = "ask to move"
	CallOff    Remedy = "call off"
)

// Way is one way out: what it is, how many slabs it gives, and why.
type Way struct {
	Remedy Remedy
	What   string // the belly, class or piece it acts on
	Gain   int    // slabs
	Why    string
}

// Recount is the cut list of a delivery against what is wanted.
type Recount struct {
	Cuts                       []carcass.BellyCut
	Slabs, Wanted, Short, Over int
	Ways                       []Way // only when Short > 0
}

// Recount cuts every delivered side and, when slabs are short, lists the ways out.
func (s Shortage) Recount() Recount {
	r := Recount{Wanted: s.Wanted}
	r.Cuts, r.Slabs = s.Profile.CutList(s.Rule, s.Sides)
	r.Short, r.Over = max(s.Wanted-r.Slabs, 0), max(r.Slabs-s.Wanted, 0)
	if r.Short > 0 {
		r.Ways = s.ways(r)
	}
	return r
}

func (s Shortage) ways(r Recount) []Way {
	var ways []Way
	if s.Demos > 0 {
		ways = append(ways, Way{DropDemo, count(s.Demos, "demo slab"), s.Demos, "the shop goes without, no guest is touched"})
	}
	for i, c := range r.Cuts {
		if c.Skin == carcass.SkinOn {
			continue
		}
		side := s.Sides[i]
		side.Skin = carcass.SkinOn
		on := s.Profile.CutSide(s.Rule, side)
		w := Way{LeaveSkin, c.Tag, on.Slabs.Count - c.Slabs.Count, fmt.Sprintf("%s instead of %s", pieces(on.Slabs), pieces(c.Slabs))}
		if w.Gain <= 0 {
			w.Gain = 0
			w.Why = fmt.Sprintf("%s either way", pieces(on.Slabs))
		}
		ways = append(ways, w)
	}
	ways = append(ways, s.others(r.Short)...)
	for _, f := range s.Frozen {
		ways = append(ways, s.thaw(f))
	}
	return append(ways,
		Way{AskToMove, "guests who would come another day", 0, "each yes frees one slab; it is theirs to say"},
		Way{CallOff, "the class", 0, "every booking chooses money back, another date or credit"})
}

// others takes from the same delivery only what the gap asks for: free slabs first,
// then unsold seats, latest class first and of one day the later sitting first.
func (s Shortage) others(short int) []Way {
	var ways []Way
	left := short
	take := min(s.Free, left)
	if s.Free > 0 {
		ways = append(ways, Way{TakeFree, "same delivery", take, fmt.Sprintf("%d of %s nobody claims", take, count(s.Free, "slab"))})
		left -= take
	}
	unsold := slices.Clone(s.Unsold)
	slices.SortFunc(unsold, func(a, b Unsold) int {
		if a.Start != b.Start {
			return int(b.Start - a.Start)
		}
		return strings.Compare(b.Code, a.Code)
	})
	for _, u := range unsold {
		if u.Seats <= 0 {
			continue
		}
		take := min(u.Seats, left)
		left -= take
		ways = append(ways, Way{TakeUnsold, u.Code, take, fmt.Sprintf("%d of %s not sold; they come off sale", take, count(u.Seats, "seat"))})
	}
	return ways
}

// ThawSteps is how many days a piece takes in the fridge: 24 h for every started
// step of so much weight (extension "safe thawing" sheets: 5 lb), piece by piece.
func ThawSteps(piece, per unit.Weight) int {
	return int(unit.MulDiv(int64(piece), 1, int64(per), unit.Up))
}

func (s Shortage) thaw(f Frozen) Way {
	per := s.ThawPer
	if per <= 0 {
		per = 5 * unit.Pound
	}
	steps := ThawSteps(f.Weight, per)
	ready := s.Now.Add(time.Duration(steps) * 24 * time.Hour)
	w := Way{Remedy: Thaw, What: f.Tag}
	need := fmt.Sprintf("%s is %d started %s: %d h", f.Weight.LB(), steps, per.LB(), 24*steps)
	if ready > s.Start {
		w.Why = "not in time: " + need
		return w
	}
	cut := s.Profile.CutBelly(s.Rule, f.Weight, f.Skin)
	w.Gain, w.Why = cut.Slabs.Count, need+", in time; "+pieces(cut.Slabs)
	return w
}

func pieces(s carcass.Slabs) string {
	if s.Count == 0 {
		return "none"
	}
	return fmt.Sprintf("%d × %s", s.Count, s.Each.LB())
}
