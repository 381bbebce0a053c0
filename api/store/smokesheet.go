package store

import (
	"context"
	"encoding/json"
	"errors"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// SmokeSheet is one smoke day: what hangs where, what waits and why.
type SmokeSheet struct {
	Day        unit.Day
	Planned    bool
	Hanging    bool // the first slab hangs: the load stands
	Hooks      int
	HouseHooks int
	Used       int
	Bottom     int // hooks of the bottom row taken by allergen crusts
	BottomRow  int
	Lines      []SmokeLine
	Waiting    []smoke.Group
	Revision   int
	Refused    string   // why no load can be planned that day; "" when it can
	Again      []string // why the load no longer holds as it was planned
	Chosen     string   // "" by the house rule, "plan" by the plan over all loads ahead
	ChosenBy   string
	ChosenWhy  string
	Wood       string
	Unpaired   []string // tags of the load that hang on no hook yet
	Unchecked  []string // tags whose hook nobody has looked at a second time
	Out        bool     // a slab has left the smoke
	Chill      *Chill   // once the load hangs
}

// SmokeLine is one slab of a load.
type SmokeLine struct {
	Hook      string
	BottomRow bool
	Tag       string
	Ref       string
	Name      string
	Jar       string
	Allergens string
	State     shop.SlabState
	Reason    string
	Scanned   bool // its hook was scanned, not taken from the plan
	CheckedAt unit.Instant
	CheckedBy string
}

// Hung says whether the slab hangs or has hung.
func (l SmokeLine) Hung() bool {
	return l.State != shop.InCure && l.State != shop.Rinsed && (l.State != shop.OnHold || l.CheckedAt != 0)
}

// SmokeSheet reads a smoke day's load.
func (s *Store) SmokeSheet(ctx context.Context, day unit.Day) (*SmokeSheet, error) {
	db := s.read(ctx)
	sh := &SmokeSheet{Day: day, BottomRow: s.Rules.BottomRow, Hooks: s.Rules.Hooks}
	var err error
	if sh.HouseHooks, err = houseHooks(db, s.Rules, day); err != nil {
		return nil, err
	}
	if sh.Refused, err = noChainFor(db, day); err != nil {
		return nil, err
	}
	var l shop.SmokeLoad
	err = db.Where("day = ?", day).Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return sh, nil
	}
	if err != nil {
		return nil, err
	}
	sh.Planned, sh.Hanging, sh.Hooks, sh.HouseHooks, sh.Revision = true, l.State == "hung", l.Hooks, l.HouseHooks, l.Revision
	sh.Chosen, sh.ChosenBy, sh.ChosenWhy, sh.Wood = l.Chosen, l.ChosenBy, l.ChosenWhy, l.Wood
	if sh.Again, err = s.planAgain(db, &l); err != nil {
		return nil, err
	}
	if sh.Hanging {
		log, err := s.loadLog(db, &l)
		if err != nil {
			return nil, err
		}
		sh.Chill = &log.Chill
		sh.Out = slices.ContainsFunc(log.Lines, func(x LogLine) bool { return x.Phase == shop.OutPhase })
	}
	var load smoke.Load
	if l.Why != "" {
		if err := json.Unmarshal([]byte(l.Why), &load); err != nil {
			return nil, err
		}
	}
	sh.Waiting = load.Waiting
	var rows []struct {
		SmokeLine
		Number int
		Guest  string
	}
	err = db.Raw(`SELECT coalesce(places.code, '') AS hook, coalesce(places.bottom, ?) AS bottom_row, slabs.tag, slabs.state, load_slabs.reason, load_slabs.scanned, load_slabs.checked_at, load_slabs.checked_by, coalesce(jars.code, '') AS jar, coalesce(jars.allergens, '') AS allergens,
		coalesce(bookings.number, 0) AS number, coalesce(guests.name, '') AS guest
		FROM load_slabs JOIN slabs ON slabs.id = load_slabs.slab_id LEFT JOIN places ON places.id = load_slabs.place_id LEFT JOIN jars ON jars.id = slabs.jar_id
		LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN bookings ON bookings.id = seats.booking_id LEFT JOIN guests ON guests.id = seats.guest_id
		WHERE load_slabs.load_id = ? ORDER BY places.bottom, places.id, slabs.tag`, false, l.ID).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		line := r.SmokeLine
		line.Name = "the shop"
		if r.Number != 0 {
			line.Ref, line.Name = shop.Ref(r.Number), firstName(r.Guest)
		}
		if line.Allergens != "" {
			sh.Bottom++
		}
		switch {
		case !line.Hung():
			sh.Unpaired = append(sh.Unpaired, line.Tag)
		case line.CheckedAt == 0:
			sh.Unchecked = append(sh.Unchecked, line.Tag)
		}
		sh.Used++
		sh.Lines = append(sh.Lines, line)
	}
	sh.Planned = sh.Hanging || len(sh.Lines)+len(sh.Waiting) > 0 // a load that was dropped is none
	return sh, nil
}

// noChainFor says why a smoke day cannot be worked, or "".
func noChainFor(db *gorm.DB, day unit.Day) (string, error) {
	closed, err := closedForWork(db)
	if err != nil {
		return "", err
	}
	for d := day - 1; d <= day+1; d++ {
		if closed.Has(d) {
			return d.Show() + " is closed (" + closed[d] + "); unbagging, smoking and packing follow day on day.", nil
		}
	}
	return "", nil
}

// SmokeDay is one smoke day ahead, at a glance.
type SmokeDay struct {
	Day        unit.Day
	Unbag      unit.Day
	Planned    bool
	Slabs      int // in the load, or able to hang when none is planned yet
	Hooks      int // for classes
	HouseHooks int
	Refused    string
	Again      []string // why the planned load no longer holds
}

// SmokeDays lists the smoke days of the next three weeks by the shop's unbag days.
func (s *Store) SmokeDays(ctx context.Context) ([]SmokeDay, error) {
	db, today := s.read(ctx), s.Today()
	var out []SmokeDay
	for d := today; d < today+21; d++ {
		fits := false
		for _, wd := range s.Rules.UnbagDays {
			fits = fits || int((d-1).Weekday()) == wd
		}
		sh, err := s.SmokeSheet(ctx, d)
		if err != nil {
			return nil, err
		}
		if !fits && !sh.Planned {
			continue
		}
		x := SmokeDay{Day: d, Unbag: d - 1, Planned: sh.Planned, Slabs: sh.Used, Hooks: sh.Hooks - sh.HouseHooks, HouseHooks: sh.HouseHooks, Refused: sh.Refused, Again: sh.Again}
		if !sh.Planned {
			w, err := waitingForSmoke(db, s.Rules, d-1)
			if err != nil {
				return nil, err
			}
			x.Slabs = len(w)
		}
		out = append(out, x)
	}
	return out, nil
}
