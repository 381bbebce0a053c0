package store

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// planAgain says why a planned load no longer holds: a hold, a dump, cold hours, hooks or
// a closed day may have come since. Nothing of it is stored, so it is gone when the load
// is planned again. A load that hangs stands.
func (s *Store) planAgain(db *gorm.DB, l *shop.SmokeLoad) ([]string, error) {
	if l.State != "planned" || l.Day < s.Today() {
		return nil, nil
	}
	var why []string
	shut, err := noChainFor(db, l.Day)
	if err != nil {
		return nil, err
	}
	if shut != "" {
		why = append(why, shut)
	}
	own, err := houseHooks(db, s.Rules, l.Day)
	if err != nil {
		return nil, err
	}
	rail, hooks, err := railOf(db, own)
	if err != nil {
		return nil, err
	}
	if own != l.HouseHooks || len(hooks) != l.Hooks {
		why = append(why, fmt.Sprintf("planned with %d hooks for the shop's own bacon, and it takes %d now", l.HouseHooks, own))
	}
	tags, gone, err := s.stillThere(db, l)
	if err != nil {
		return nil, err
	}
	why = append(why, gone...)
	slabs, err := waitingForSmoke(db, s.Rules, l.Day-1)
	if err != nil || len(why) > 0 {
		return why, err
	}
	load, err := smoke.Taken(rail.Day(l.Day-1), slabs, tags, "", "waits")
	if err == nil {
		err = load.Fits(rail.Day(l.Day-1), slabs)
	}
	if err != nil {
		return append(why, strings.TrimPrefix(err.Error(), "smoke: ")), nil
	}
	if l.Chosen != "" {
		return why, nil // the owner chose otherwise, and it still may hang
	}
	now, err := smoke.Choose(rail.Day(l.Day-1), slabs)
	if err != nil {
		return nil, err
	}
	if more, less := apart(now.Tags(), tags), apart(tags, now.Tags()); len(more)+len(less) > 0 {
		text := "the house rule would now hang " + strings.Join(more, ", ")
		if len(less) > 0 {
			text += " and not " + strings.Join(less, ", ")
		}
		if len(more) == 0 {
			text = "the house rule would now not hang " + strings.Join(less, ", ")
		}
		why = append(why, text)
	}
	return why, nil
}

// stillThere lists the tags of a planned load, and what has become of those that can no
// longer hang in it.
func (s *Store) stillThere(db *gorm.DB, l *shop.SmokeLoad) (tags, gone []string, err error) {
	rows, err := many[shop.Slab](db, "class_id, number", "id IN (SELECT slab_id FROM load_slabs WHERE load_id = ?)", l.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, sl := range rows {
		tags = append(tags, sl.Tag)
		switch {
		case sl.State != shop.InCure && sl.State != shop.Rinsed:
			gone = append(gone, fmt.Sprintf("%s is %s", sl.Tag, sl.State))
		case sl.State == shop.InCure && sl.UnbagFrom > l.Day-1:
			gone = append(gone, fmt.Sprintf("%s may leave its bag on %s at the earliest", sl.Tag, sl.UnbagFrom.Show()))
		}
	}
	if len(gone) > 6 {
		gone = append(gone[:5], fmt.Sprintf("and so with %d more", len(gone)-5))
	}
	return tags, gone, nil
}

// apart is what of a is not in b.
func apart(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(x string) bool { return slices.Contains(b, x) })
}

// dropLoad takes a planned load away that its day can no longer carry, and expects its
// slabs on the next chain that fits. Nobody is told until the owner tells the dates.
func (t tx) dropLoad(by shop.Actor, l *shop.SmokeLoad, why string) error {
	rows, err := many[shop.Slab](t.DB, "id", "id IN (SELECT slab_id FROM load_slabs WHERE load_id = ?)", l.ID)
	if err != nil {
		return err
	}
	for _, sl := range rows {
		if sl.State == shop.Rinsed {
			return shop.Stop("unbagged", "%s is out of its bag for the load of %s, which therefore stands.", sl.Tag, l.Day.Show())
		}
	}
	if err := t.Where("load_id = ?", l.ID).Delete(&shop.LoadSlab{}).Error; err != nil {
		return err
	}
	load, err := json.Marshal(smoke.Load{})
	if err != nil {
		return err
	}
	err = changed(t.Model(&shop.SmokeLoad{}).Where("id = ? AND revision = ? AND state = ?", l.ID, l.Revision, "planned").
		Updates(map[string]any{"why": string(load), "chosen": "", "chosen_by": "", "chosen_why": "", "revision": l.Revision + 1}), shop.ErrStale)
	if err != nil {
		return err
	}
	return t.note(by, "load", int64(l.Day), "dropped", "planned", "", why)
}

// slipFrom expects every waiting slab whose chain runs over a day on the next that fits.
func (t tx) slipFrom(day unit.Day) error {
	rows, err := many[shop.Slab](t.DB, "id", "smoke_on BETWEEN ? AND ? AND (state = ? OR state = ? AND held_from = ?)", day-1, day+1, shop.InCure, shop.OnHold, shop.InCure)
	if err != nil {
		return err
	}
	logs := roomLogs{}
	for _, sl := range rows {
		cold, err := t.coldTime(sl.ID, logs)
		if err != nil {
			return err
		}
		c, err := t.chainFrom(max(t.today, sl.SmokeOn-1), sl.SealedOn, cold)
		if err != nil {
			return err
		}
		if err := t.Model(&shop.Slab{}).Where("id = ?", sl.ID).Update("smoke_on", c.Smoke).Error; err != nil {
			return err
		}
	}
	return nil
}
