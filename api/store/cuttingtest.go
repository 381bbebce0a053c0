package store

import (
	"context"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
)

// CuttingTestView is a cutting test with what it says.
type CuttingTestView struct {
	shop.CuttingTest
	Farm   string
	Parts  []carcass.TestPart
	Result carcass.CuttingResult
}

// AddCuttingTest keeps a cutting test. A whole side of a farm counts for that farm's own
// shares from then on, once the owner takes them over.
func (s *Store) AddCuttingTest(ctx context.Context, by shop.Actor, n shop.CuttingTest, once Once) (int64, error) {
	n.Name, n.UsableName, n.Note = trim(n.Name), trim(n.UsableName), trim(n.Note)
	if err := n.Check(); err != nil {
		return 0, err
	}
	var id int64
	err := s.tx(ctx, func(t tx) error {
		if ref, seen, err := t.repeated(once, "cutting test", by); err != nil {
			return err
		} else if seen {
			id, err = strconv.ParseInt(ref, 10, 64)
			return err
		}
		if n.FarmID != 0 {
			if _, err := take[shop.Farm](t.DB, "The farm", "id = ?", n.FarmID); err != nil {
				return err
			}
			y, err := take[shop.YieldProfile](t.DB, "This farm's "+n.Species, "farm_id = ? AND species = ?", n.FarmID, n.Species)
			if err != nil {
				var w shop.Wrong
				w.Add("farm", "The shop has no %s from this farm.", n.Species)
				return w.Err()
			}
			if err := sideFits(n, *y); err != nil {
				return err
			}
		}
		if n.Day == 0 {
			n.Day = t.today
		}
		if n.Day > t.today {
			var w shop.Wrong
			w.Add("day", "That day has not come yet.")
			return w.Err()
		}
		n.ID, n.MadeAt, n.Actor = 0, t.now, by.Name
		if err := t.Create(&n).Error; err != nil {
			return err
		}
		id = n.ID
		if err := t.note(by, "cutting test", id, "written down", "", "", n.Name); err != nil {
			return err
		}
		return t.remember(once, "cutting test", by, strconv.FormatInt(id, 10))
	})
	return id, err
}

// sideFits refuses a whole side whose cuts the farm's profile does not name: they would
// count for nothing without a word.
func sideFits(n shop.CuttingTest, y shop.YieldProfile) error {
	side, ok := n.Side()
	if !ok {
		return nil
	}
	p, err := y.Carcass("")
	if err != nil {
		return err
	}
	known := map[string]bool{"belly": p.Belly > 0}
	names := []string{"belly"}
	for _, c := range p.Rest {
		known[c.Cut] = true
		names = append(names, c.Cut)
	}
	for _, c := range side.Cuts {
		if known[c.Name] {
			return nil
		}
	}
	var w shop.Wrong
	w.Add("whole_side", "None of the names is a cut of this farm's animals; they are %s.", strings.Join(names, ", "))
	return w.Err()
}

// CuttingTests lists them, the newest first.
func (s *Store) CuttingTests(ctx context.Context) ([]CuttingTestView, error) {
	rows, err := many[shop.CuttingTest](s.read(ctx), "day DESC, id DESC", "1 = 1")
	if err != nil {
		return nil, err
	}
	farms, err := s.Farms(ctx)
	if err != nil {
		return nil, err
	}
	names := map[shop.FarmID]string{}
	for _, f := range farms {
		names[f.ID] = f.Name
	}
	var out []CuttingTestView
	for _, r := range rows {
		v, err := testView(r, names[r.FarmID])
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// CuttingTest reads one.
func (s *Store) CuttingTest(ctx context.Context, id int64) (*CuttingTestView, error) {
	db := s.read(ctx)
	r, err := take[shop.CuttingTest](db, "The cutting test", "id = ?", id)
	if err != nil {
		return nil, err
	}
	name := ""
	if r.FarmID != 0 {
		f, err := take[shop.Farm](db, "The farm", "id = ?", r.FarmID)
		if err != nil {
			return nil, err
		}
		name = f.Name
	}
	v, err := testView(*r, name)
	return &v, err
}

func testView(r shop.CuttingTest, farm string) (CuttingTestView, error) {
	c, err := r.Carcass()
	if err != nil {
		return CuttingTestView{}, err
	}
	res, err := c.Reckon()
	return CuttingTestView{CuttingTest: r, Farm: farm, Parts: c.Parts, Result: res}, err
}
