package store

import (
	"context"
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// CheckScale enters what a scale shows for the 5 g weight today (R25: 4.9 to 5.1 g).
// A failed check is kept too, and the scale stays barred until a check passes.
func (s *Store) CheckScale(ctx context.Context, by shop.Actor, scale string, shown unit.Weight) error {
	return s.CheckScaleAt(ctx, by, scale, shown, 0)
}

// CheckScaleAt is CheckScale for a check that was done before it could be sent; 0 means
// just now. The same check sent again is kept once.
func (s *Store) CheckScaleAt(ctx context.Context, by shop.Actor, scale string, shown unit.Weight, done unit.Instant) error {
	return s.bench(ctx, func(t tx) error {
		when := Scan{DoneAt: done}
		if err := when.check(t.now); err != nil {
			return err
		}
		at := when.at(t.now)
		sc, err := take[shop.Scale](t.DB, "That scale", "name = ?", trim(scale))
		if err != nil {
			return err
		}
		if shown <= 0 || shown > unit.Kilogram {
			return shop.Bad("shown", "Write what the scale shows for the 5 g weight, such as 5.0.")
		}
		c := shop.ScaleCheck{ScaleID: sc.ID, Day: at.Day(t.s.Loc), Shown: shown, Passed: cure.ScaleCheckPasses(shown), Actor: by.Name, At: at}
		var again int64
		if done != 0 {
			if err := t.Model(&c).Where("scale_id = ? AND shown = ? AND actor = ? AND at = ?", c.ScaleID, c.Shown, c.Actor, c.At).Count(&again).Error; err != nil {
				return err
			}
		}
		if again == 0 {
			if err := t.Create(&c).Error; err != nil {
				return err
			}
		}
		if !c.Passed {
			return kept{shop.Stop("scale_off", "%s shows %s for the 5 g weight, outside 4.9 to 5.1 g. It may not weigh curing salt; clean and level it, then check again.", sc.Name, shown.G(2))}
		}
		return nil
	})
}

// scaleAt is a scale as it stood at a moment, with its last check.
func (t tx) scaleAt(name string, at unit.Instant) (*shop.Scale, cure.Scale, error) {
	sc, err := take[shop.Scale](t.DB, "That scale", "name = ?", trim(name))
	if err != nil {
		return nil, cure.Scale{}, shop.Bad("scale", "Choose the scale the curing salt was weighed on.")
	}
	out := cure.Scale{Name: sc.Name, Step: sc.Step}
	var c shop.ScaleCheck
	err = t.Where("scale_id = ? AND at <= ?", sc.ID, at).Order("at DESC, id DESC").Take(&c).Error
	if err != nil && !errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, out, err
	}
	out.Checked, out.Reading = c.Day, c.Shown
	return sc, out, nil
}

// ScaleLine is a scale on a page.
type ScaleLine struct {
	Name    string
	Step    unit.Weight
	Fine    bool        // reads 0.1 g or finer: may weigh curing salt once checked
	Checked bool        // today, and passed
	Shown   unit.Weight // at the last check of today
}

// Scales lists the shop's scales with today's checks, the finest first.
func (s *Store) Scales(ctx context.Context) ([]ScaleLine, error) {
	scales, err := many[shop.Scale](s.read(ctx), "step, id", "1 = 1")
	if err != nil {
		return nil, err
	}
	checks, err := many[shop.ScaleCheck](s.read(ctx), "at, id", "day = ?", s.Today())
	if err != nil {
		return nil, err
	}
	var out []ScaleLine
	for _, sc := range scales {
		l := ScaleLine{Name: sc.Name, Step: sc.Step, Fine: sc.Step <= cure.CureStep}
		for _, c := range checks {
			if c.ScaleID == sc.ID {
				l.Checked, l.Shown = c.Passed, c.Shown
			}
		}
		out = append(out, l)
	}
	return out, nil
}

// scaleInUse is the scale curing salt is weighed on that day: the finest one that passed
// its last check, else the finest there is that may ever weigh it. A shop without one
// reads to 0.1 g in its tickets all the same.
func scaleInUse(db *gorm.DB, day unit.Day) (cure.Scale, error) {
	scales, err := many[shop.Scale](db, "step, id", "step <= ?", cure.CureStep)
	if err != nil || len(scales) == 0 {
		return cure.Scale{Step: cure.CureStep}, err
	}
	checks, err := many[shop.ScaleCheck](db, "at, id", "day = ?", day)
	if err != nil {
		return cure.Scale{}, err
	}
	last := map[shop.ScaleID]shop.ScaleCheck{}
	for _, c := range checks {
		last[c.ScaleID] = c
	}
	for _, sc := range scales {
		if c, ok := last[sc.ID]; ok && c.Passed {
			return cure.Scale{Name: sc.Name, Step: sc.Step, Checked: c.Day, Reading: c.Shown}, nil
		}
	}
	return cure.Scale{Name: scales[0].Name, Step: scales[0].Step}, nil
}
