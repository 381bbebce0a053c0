package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// SetHouseHooks says how many hooks the shop's own bacon takes on a day (R30).
func (s *Store) SetHouseHooks(ctx context.Context, by shop.Actor, day unit.Day, hooks int) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	return s.tx(ctx, func(t tx) error {
		if _, _, err := t.rail(hooks); err != nil {
			return err
		}
		err := t.Exec("INSERT INTO hook_plans (day, house_hooks) VALUES (?, ?) ON CONFLICT (day) DO UPDATE SET house_hooks = excluded.house_hooks", day, hooks).Error
		if err != nil {
			return err
		}
		return t.note(by, "hooks", int64(day), "house hooks", "", "", fmt.Sprintf("%s: %d", day.Show(), hooks))
	})
}

func houseHooks(db *gorm.DB, r shop.Rules, day unit.Day) (int, error) {
	var p shop.HookPlan
	err := db.Where("day = ?", day).Take(&p).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return r.HouseHooks[day.Weekday()], nil
	}
	return p.HouseHooks, err
}

// rail is the smokehouse's hooks with the shop's own taken off the top rows, and the
// places they stand for: hook number n is hooks[n-1].
func (t tx) rail(own int) (smoke.Rail, []shop.Place, error) { return railOf(t.DB, own) }

func railOf(db *gorm.DB, own int) (smoke.Rail, []shop.Place, error) {
	hooks, err := many[shop.Place](db, "bottom, id", "kind = ?", shop.Hook)
	if err != nil {
		return smoke.Rail{}, nil, err
	}
	bottom := 0
	for _, h := range hooks {
		if h.Bottom {
			bottom++
		}
	}
	r, err := smoke.NewRail(len(hooks), bottom, own)
	if err != nil {
		return r, nil, shop.Bad("hooks", "%s", err)
	}
	return r, hooks, nil
}

// waitingForSmoke lists the slabs that are rinsed, or whose party may leave its bags by
// a day; held and unproven ones with them, since a party stays whole.
func waitingForSmoke(db *gorm.DB, r shop.Rules, unbag unit.Day) ([]smoke.Slab, error) {
	var rows []struct {
		shop.Slab
		BNumber   int
		Allergens string
	}
	err := db.Raw(`SELECT slabs.*, coalesce(bookings.number, 0) AS b_number, coalesce(jars.allergens, '') AS allergens FROM slabs
		LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN bookings ON bookings.id = seats.booking_id LEFT JOIN jars ON jars.id = slabs.jar_id
		WHERE slabs.sealed_on IS NOT NULL AND (slabs.state IN ? OR slabs.state = ? AND slabs.held_from IN ? OR slabs.state = ?) ORDER BY slabs.class_id, slabs.number`,
		[]shop.SlabState{shop.InCure, shop.Rinsed}, shop.OnHold, []shop.SlabState{shop.InCure, shop.Rinsed}, shop.Unproven).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	due := map[string]bool{}
	party := func(i int) string {
		if rows[i].BNumber == 0 {
			return rows[i].Tag
		}
		return shop.Ref(rows[i].BNumber)
	}
	for i := range rows {
		if rows[i].State == shop.Rinsed || rows[i].UnbagFrom <= unbag {
			due[party(i)] = true
		}
	}
	var out []smoke.Slab
	for i := range rows {
		row := &rows[i]
		if !due[party(i)] {
			continue
		}
		sl := smoke.Slab{Tag: row.Tag, Sealed: row.SealedOn, Earliest: row.UnbagFrom, Latest: row.SealedOn + unit.Day(r.LatestDay),
			Allergen: row.Allergens != "", Held: row.State == shop.OnHold || row.State == shop.Unproven}
		if row.BNumber != 0 {
			sl.Party = shop.Ref(row.BNumber)
		}
		if row.State == shop.Rinsed {
			sl.Earliest = min(sl.Earliest, unbag) // it is out of its bag
		}
		out = append(out, sl)
	}
	return out, nil
}

// LoadPlan is a smoke load as chosen: what hangs where, what waits, and why.
type LoadPlan struct {
	Day        unit.Day
	Hooks      int // in the house
	HouseHooks int
	Load       smoke.Load
	Hangings   []LoadHanging
}

// LoadHanging is a slab's hook.
type LoadHanging struct{ Tag, Hook string }

// PlanLoad chooses what hangs on a smoke day by the house rules (R30 to R32), checks the
// choice by other means, and saves it with its reasons. It may be planned anew until the
// first slab hangs. Slabs that are left out are expected on the next day that fits; the
// promise to their people stays until the owner tells them.
func (s *Store) PlanLoad(ctx context.Context, by shop.Actor, day unit.Day) (*LoadPlan, error) {
	var plan *LoadPlan
	err := s.tx(ctx, func(t tx) error {
		r, err := t.loadRoom(day)
		if err != nil {
			return err
		}
		load, err := smoke.Choose(r.room, r.slabs)
		if err != nil {
			return shop.Bad("load", "%s", err)
		}
		if err := load.Check(r.room, r.slabs); err != nil {
			return fmt.Errorf("load of %s: %w", day, err)
		}
		if plan, err = t.keepLoad(r, load, chosenBy{}, nil); err != nil {
			return err
		}
		return t.note(by, "load", int64(day), "planned", "", "", fmt.Sprintf("%d of %d hooks", load.Hooks, r.room.Hooks))
	})
	return plan, err
}

// loadRoom is what a smoke day gives a load, and who may hang in it.
type loadRoom struct {
	day   unit.Day
	own   int
	rail  smoke.Rail
	hooks []shop.Place
	room  smoke.Day
	slabs []smoke.Slab
}

func (t tx) loadRoom(day unit.Day) (r loadRoom, err error) {
	if day < t.today {
		return r, shop.Bad("day", "%s is past.", day.Show())
	}
	closed, err := closedForWork(t.DB)
	if err != nil {
		return r, err
	}
	for d := day - 1; d <= day+1; d++ {
		if closed.Has(d) {
			return r, shop.Stop("closed", "No load on %s: %s is closed (%s), and unbagging, smoking and packing follow day on day.", day.Show(), d.Show(), closed[d])
		}
	}
	r.day = day
	if r.own, err = houseHooks(t.DB, t.s.Rules, day); err != nil {
		return r, err
	}
	if r.rail, r.hooks, err = t.rail(r.own); err != nil {
		return r, err
	}
	r.room = r.rail.Day(day - 1)
	r.slabs, err = waitingForSmoke(t.DB, t.s.Rules, day-1)
	return r, err
}

// chosenBy says who chose a load otherwise than by the house rule, and why.
type chosenBy struct{ how, name, why string }

// keepLoad pairs a load with hooks and saves it. when says on which days slabs that wait
// are meant to be smoked, where a plan says so.
func (t tx) keepLoad(r loadRoom, load smoke.Load, c chosenBy, when map[string]unit.Day) (*LoadPlan, error) {
	hung, err := smoke.Assign(load, r.slabs, r.rail)
	if err != nil {
		return nil, fmt.Errorf("hooks of %s: %w", r.day, err)
	}
	plan := &LoadPlan{Day: r.day, Hooks: len(r.hooks), HouseHooks: r.own, Load: load}
	for _, h := range hung {
		plan.Hangings = append(plan.Hangings, LoadHanging{h.Tag, r.hooks[h.Hook-1].Code})
	}
	if err := t.saveLoad(plan, hung, r.hooks, c); err != nil {
		return nil, err
	}
	return plan, t.slip(load, r.day, when)
}

func (t tx) saveLoad(plan *LoadPlan, hung []smoke.Hanging, hooks []shop.Place, c chosenBy) error {
	why, err := json.Marshal(plan.Load)
	if err != nil {
		return err
	}
	var l shop.SmokeLoad
	err = t.Where("day = ?", plan.Day).Take(&l).Error
	switch {
	case errors.Is(err, gorm.ErrRecordNotFound):
		l = shop.SmokeLoad{Day: plan.Day, Hooks: plan.Hooks, HouseHooks: plan.HouseHooks, State: "planned", Why: string(why),
			Chosen: c.how, ChosenBy: c.name, ChosenWhy: c.why}
		if err := t.Create(&l).Error; err != nil {
			if isDuplicate(err) {
				return shop.ErrStale
			}
			return err
		}
	case err != nil:
		return err
	default:
		err := changed(t.Model(&shop.SmokeLoad{}).Where("id = ? AND revision = ? AND state = ?", l.ID, l.Revision, "planned").
			Updates(map[string]any{"hooks": plan.Hooks, "house_hooks": plan.HouseHooks, "why": string(why),
				"chosen": c.how, "chosen_by": c.name, "chosen_why": c.why, "revision": l.Revision + 1}),
			shop.Stop("hanging", "The load of %s is hanging already and cannot be planned anew.", plan.Day.Show()))
		if err != nil {
			return err
		}
		if err := t.Where("load_id = ?", l.ID).Delete(&shop.LoadSlab{}).Error; err != nil {
			return err
		}
	}
	at := map[string]shop.PlaceID{}
	for _, h := range hung {
		at[h.Tag] = hooks[h.Hook-1].ID
	}
	reason := map[string]string{}
	for _, g := range plan.Load.Groups {
		for _, tag := range g.Tags {
			reason[tag] = g.Party + ": " + g.Why
		}
	}
	for _, tag := range plan.Load.Demos {
		reason[tag] = "demo slab, after all parties"
	}
	for _, h := range hung {
		sl, err := t.slabByTag(h.Tag)
		if err != nil {
			return err
		}
		if err := t.Create(&shop.LoadSlab{LoadID: l.ID, SlabID: sl.ID, PlaceID: at[h.Tag], Reason: reason[h.Tag]}).Error; err != nil {
			return err
		}
	}
	return nil
}

// slip sets when each slab is expected to be smoked: those of the load on its day, the
// others on the day a plan means them for, else on the next chain that fits.
func (t tx) slip(load smoke.Load, day unit.Day, when map[string]unit.Day) error {
	for _, tag := range load.Tags() {
		if err := t.Model(&shop.Slab{}).Where("tag = ?", tag).Update("smoke_on", day).Error; err != nil {
			return err
		}
	}
	logs := roomLogs{}
	for _, g := range load.Waiting {
		for _, tag := range g.Tags {
			sl, err := t.slabByTag(tag)
			if err != nil {
				return err
			}
			if on := when[tag]; on > day {
				if err := t.Model(&shop.Slab{}).Where("id = ?", sl.ID).Update("smoke_on", on).Error; err != nil {
					return err
				}
				continue
			}
			if sl.SmokeOn > day {
				continue
			}
			cold, err := t.coldTime(sl.ID, logs)
			if err != nil {
				return err
			}
			c, err := t.chainFrom(day, sl.SealedOn, cold)
			if err != nil {
				return err
			}
			if err := t.Model(&shop.Slab{}).Where("id = ?", sl.ID).Update("smoke_on", c.Smoke).Error; err != nil {
				return err
			}
		}
	}
	return nil
}

// Hang puts a rinsed slab on a hook of today's load: rinsed to in smoke. hook "" takes
// the one planned. A slab whose spice carries an allergen hangs in the bottom row only
// (R31), and nobody hangs on the hooks of the shop's own bacon.
func (s *Store) Hang(ctx context.Context, by shop.Actor, sc Scan, hook string) error {
	return s.onSlab(ctx, by, sc, shop.InSmoke, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "hanging", shop.Rinsed); err != nil {
			return err
		}
		day := sc.at(t.now).Day(t.s.Loc)
		var l shop.SmokeLoad
		err := t.Where("day = ?", day).Take(&l).Error
		if errors.Is(err, gorm.ErrRecordNotFound) {
			return shop.Stop("no_load", "No load is planned for %s. Plan it first.", day.Show())
		}
		if err != nil {
			return err
		}
		var ls shop.LoadSlab
		err = t.Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Take(&ls).Error
		if errors.Is(err, gorm.ErrRecordNotFound) {
			return shop.Stop("not_in_load", "%s is not in the load of %s.", sl.Tag, day.Show())
		}
		if err != nil {
			return err
		}
		p, err := t.hookFor(sl, &l, &ls, hook)
		if err != nil {
			return err
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.InSmoke, reading: "hook " + p.Code, set: map[string]any{"smoke_on": day}})
		if err != nil || !moved {
			return err
		}
		if err := t.place(sl, p); err != nil {
			return err
		}
		// Another slab of the load may have been meant for this hook: it takes this one's.
		if ls.PlaceID != p.ID {
			if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Update("place_id", 0).Error; err != nil {
				return err
			}
			if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND place_id = ?", l.ID, p.ID).Update("place_id", ls.PlaceID).Error; err != nil {
				return err
			}
			if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Update("place_id", p.ID).Error; err != nil {
				return err
			}
		}
		if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Update("scanned", trim(hook) != "").Error; err != nil {
			return err
		}
		return t.Model(&shop.SmokeLoad{}).Where("id = ?", l.ID).Update("state", "hung").Error
	})
}

func (t tx) hookFor(sl *shop.Slab, l *shop.SmokeLoad, ls *shop.LoadSlab, code string) (*shop.Place, error) {
	if trim(code) == "" {
		return take[shop.Place](t.DB, "The hook planned for "+sl.Tag, "id = ?", ls.PlaceID)
	}
	p, err := t.placeByCode(code, "hook", shop.Hook)
	if err != nil {
		return nil, err
	}
	rail, hooks, err := t.rail(l.HouseHooks)
	if err != nil {
		return nil, err
	}
	n := slices.IndexFunc(hooks, func(h shop.Place) bool { return h.ID == p.ID }) + 1
	if !slices.Contains(rail.Top, n) && !slices.Contains(rail.Bottom, n) {
		return nil, shop.Stop("house_hook", "%s is one of the shop's own hooks on %s.", p.Code, l.Day.Show())
	}
	jar, _, err := jarOf(t.DB, sl)
	if err != nil {
		return nil, err
	}
	if jar.Allergens != "" && !p.Bottom {
		return nil, shop.Stop("bottom_row", "%s carries %s (%s) and hangs in the bottom row only: nothing may drip from it onto others.", sl.Tag, jar.Allergens, jar.Name)
	}
	if jar.Allergens == "" && p.Bottom && ls.PlaceID != p.ID {
		var meant int64 // the bottom row is kept for those who need it
		err := t.Raw("SELECT count(*) FROM load_slabs ls JOIN slabs s ON s.id = ls.slab_id JOIN jars j ON j.id = s.jar_id WHERE ls.load_id = ? AND ls.place_id = ? AND j.allergens <> ''", l.ID, p.ID).Scan(&meant).Error
		if err != nil {
			return nil, err
		}
		if meant > 0 {
			return nil, shop.Stop("bottom_row", "%s is kept for a slab that may hang in the bottom row only.", p.Code)
		}
	}
	return p, nil
}

// OutOfSmoke takes a slab off its hook with the temperature at its core: in smoke to
// resting. The temperature is a record; this bacon is heat-treated, not fully cooked,
// and no reading makes it ready to eat.
func (s *Store) OutOfSmoke(ctx context.Context, by shop.Actor, sc Scan, core unit.Temp) error {
	return s.onSlab(ctx, by, sc, shop.Resting, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "taking it out of the smoke", shop.InSmoke); err != nil {
			return err
		}
		if core < 40*unit.Fahrenheit || core > 250*unit.Fahrenheit {
			return shop.Bad("temp", "%s cannot be the core of a smoked slab. Read the thermometer again.", core.Show())
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.Resting, reading: "core " + core.Show()})
		if err != nil || !moved {
			return err
		}
		if err := t.outLine(by, sl, sc.at(t.now), core); err != nil {
			return err
		}
		return t.freePlace(sl.ID)
	})
}

// outLine begins a slab's cooling in the log of its load.
func (t tx) outLine(by shop.Actor, sl *shop.Slab, at unit.Instant, core unit.Temp) error {
	var l shop.SmokeLoad
	err := t.Where("id IN (SELECT load_id FROM load_slabs WHERE slab_id = ?)", sl.ID).Order("day DESC").Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	return t.Create(&shop.SmokeLine{LoadID: l.ID, Phase: shop.OutPhase, At: at, SlabID: sl.ID, Core: &core, Actor: by.Name, ReceivedAt: t.now}).Error
}
