package smoke

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// A Rail is the smokehouse's hooks for class slabs: the free ones by number, top row
// first in each list's order. Hooks the shop's own bacon takes are left out.
type Rail struct{ Top, Bottom []int }

// NewRail numbers total hooks from 1, the last bottom of them the bottom row, and
// gives the first own hooks of the top rows to the shop's own bacon, which never
// hangs in the bottom row. With 24 hooks and 6 in the bottom row that row is 19 to 24.
func NewRail(total, bottom, own int) (Rail, error) {
	var f unit.Faults
	if total < 0 || total > maxHooks {
		f.Add("hooks", fmt.Sprintf("there cannot be %d hooks (0 to %d)", total, maxHooks))
	}
	if bottom < 0 || bottom > total {
		f.Add("bottom_row", fmt.Sprintf("there cannot be %d bottom-row hooks of %d", bottom, total))
	}
	if own < 0 || own > total-bottom {
		f.Add("own", fmt.Sprintf("the shop's own bacon cannot take %d hooks: %d are above the bottom row", own, total-bottom))
	}
	if err := f.Err(); err != nil {
		return Rail{}, err
	}
	var r Rail
	for n := own + 1; n <= total; n++ {
		if n <= total-bottom {
			r.Top = append(r.Top, n)
		} else {
			r.Bottom = append(r.Bottom, n)
		}
	}
	return r, nil
}

// Day is the room the rail gives a load.
func (r Rail) Day(unbag unit.Day) Day {
	return Day{Unbag: unbag, Hooks: len(r.Top) + len(r.Bottom), Bottom: len(r.Bottom)}
}

// A Hanging pairs a slab with its hook.
type Hanging struct {
	Tag  string
	Hook int
}

// Assign pairs the slabs of a load with hooks: allergen crusts in the bottom row,
// all others from the top, and in the bottom row only when the top is full. The
// order of the tags is kept in each row. It refuses a load that does not fit.
func Assign(l Load, slabs []Slab, r Rail) ([]Hanging, error) {
	byTag := map[string]Slab{}
	for _, s := range slabs {
		byTag[s.Tag] = s
	}
	var low, high []string
	for _, tag := range l.Tags() {
		s, ok := byTag[tag]
		if !ok {
			return nil, fmt.Errorf("slab %s of the load is not among the slabs", tag)
		}
		if s.Allergen {
			low = append(low, tag)
		} else {
			high = append(high, tag)
		}
	}
	if len(low) > len(r.Bottom) {
		return nil, fmt.Errorf("%d slabs need the bottom row, which has %d hooks free", len(low), len(r.Bottom))
	}
	if len(low)+len(high) > len(r.Top)+len(r.Bottom) {
		return nil, fmt.Errorf("%d slabs for %d free hooks", len(low)+len(high), len(r.Top)+len(r.Bottom))
	}
	var out []Hanging
	for i, tag := range low {
		out = append(out, Hanging{tag, r.Bottom[i]})
	}
	room := append(slices.Clone(r.Top), r.Bottom[len(low):]...)
	for i, tag := range high {
		out = append(out, Hanging{tag, room[i]})
	}
	slices.SortFunc(out, func(a, b Hanging) int { return a.Hook - b.Hook })
	return out, nil
}
