package store

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Calendar entries that no single use case owns: a working day is the sum of many
// slabs, a dinner of many seats. They are reckoned from the records when a feed of the
// house is read and kept like all others, so that each has one UID for life and a
// SEQUENCE that rises when, and only when, it says something new (R41).

var workKinds = []string{"unbag", "smoke", "pack", "dinner", "closed"}

// refreshWork brings the reckoned entries from today on up to date. When nothing has
// changed, and that is nearly always, nothing is written.
func (s *Store) refreshWork(ctx context.Context) error {
	same, err := s.workIsKept(s.read(ctx))
	if err != nil || same {
		return err
	}
	err = s.tx(ctx, func(t tx) error {
		want, err := s.workEntries(t.DB, t.today)
		if err != nil {
			return err
		}
		kept, err := s.keptWork(t.DB, t.today)
		if err != nil {
			return err
		}
		for _, uid := range slices.Sorted(maps.Keys(want)) {
			if _, err := t.setEntry(want[uid]); err != nil {
				return err
			}
		}
		for _, e := range kept {
			if _, ok := want[e.UID]; !ok {
				if err := t.cancelEntry(e.UID); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if isDuplicate(err) {
		return nil // another reader did the same this moment
	}
	return err
}

func (s *Store) keptWork(db *gorm.DB, today unit.Day) ([]shop.Entry, error) {
	return many[shop.Entry](db.Where("((day IS NOT NULL AND day >= ?) OR (day IS NULL AND starts_at >= ?))", today, today.At(0, 0, s.Loc)), "uid", "kind IN ?", workKinds)
}

func (s *Store) workIsKept(db *gorm.DB) (bool, error) {
	today := s.Today()
	want, err := s.workEntries(db, today)
	if err != nil {
		return false, err
	}
	kept, err := s.keptWork(db, today)
	if err != nil {
		return false, err
	}
	for _, e := range kept {
		w, ok := want[e.UID]
		if !ok {
			if !e.Cancelled {
				return false, nil
			}
			continue
		}
		e.Sequence, e.ChangedAt = 0, 0
		if w != e {
			return false, nil
		}
		delete(want, e.UID)
	}
	return len(want) == 0, nil
}

// workEntries reckons every entry from today on, by UID.
func (s *Store) workEntries(db *gorm.DB, today unit.Day) (map[string]shop.Entry, error) {
	out := map[string]shop.Entry{}
	if err := s.slabDays(db, today, out); err != nil {
		return nil, err
	}
	if err := s.dinners(db, today, out); err != nil {
		return nil, err
	}
	closed, err := many[shop.ClosedDay](db, "day", "day >= ?", today)
	if err != nil {
		return nil, err
	}
	for _, c := range closed {
		title := "Closed"
		switch {
		case c.Counter && !c.Work:
			title = "Counter closed"
		case c.Work && !c.Counter:
			title = "No production"
		}
		if c.Reason != "" {
			title += ": " + c.Reason
		}
		e := shop.Entry{UID: s.uid("closed", int64(c.Day)), Kind: "closed", Subject: "day", SubjectID: int64(c.Day), Day: c.Day, Title: title}
		out[e.UID] = e
	}
	return out, nil
}

// slabDays says on which days how many slabs are unbagged, smoked and packed. The chain
// runs on three days in a row (R28), so the smoke day, or else the ready-about day,
// gives the others.
func (s *Store) slabDays(db *gorm.DB, today unit.Day, out map[string]shop.Entry) error {
	var slabs []struct {
		Tag, Code        string
		Demo             bool
		Guest, PayerName string
		SmokeOn          unit.Day
		ReadyOn          unit.Day
		PackedOn         unit.Day
		State            shop.SlabState
	}
	err := db.Raw(`SELECT slabs.tag, classes.code, slabs.demo, coalesce(guests.name, '') AS guest, coalesce(bookings.payer_name, '') AS payer_name,
			slabs.smoke_on, slabs.ready_on, slabs.packed_on, slabs.state
		FROM slabs JOIN classes ON classes.id = slabs.class_id
		LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN guests ON guests.id = seats.guest_id
		LEFT JOIN bookings ON bookings.id = seats.booking_id
		WHERE slabs.state NOT IN ? AND (slabs.smoke_on >= ? OR slabs.ready_on >= ?) ORDER BY slabs.tag`,
		[]shop.SlabState{shop.Wanted, shop.Dumped, shop.Replaced, shop.GivenUp}, today-1, today).Scan(&slabs).Error
	if err != nil {
		return err
	}
	type group struct {
		count, held int
		names       map[string]map[string]int // class code, first name
	}
	groups := map[string]map[unit.Day]*group{"unbag": {}, "smoke": {}, "pack": {}}
	for _, sl := range slabs {
		smoke := sl.SmokeOn
		if smoke == 0 {
			smoke = sl.ReadyOn - 1
		}
		pack := smoke + 1
		if sl.PackedOn != 0 {
			pack = sl.PackedOn
		}
		name := firstName(sl.Guest)
		if name == "" {
			name = firstName(sl.PayerName)
		}
		if name == "" {
			name = "shop"
		}
		for kind, day := range map[string]unit.Day{"unbag": smoke - 1, "smoke": smoke, "pack": pack} {
			if day < today {
				continue
			}
			g := groups[kind][day]
			if g == nil {
				g = &group{names: map[string]map[string]int{}}
				groups[kind][day] = g
			}
			g.count++
			if sl.State == shop.OnHold {
				g.held++
			}
			if g.names[sl.Code] == nil {
				g.names[sl.Code] = map[string]int{}
			}
			g.names[sl.Code][name]++
		}
	}
	verbs := map[string]string{"unbag": "Unbag", "smoke": "Smoke", "pack": "Pack"}
	for kind, days := range groups {
		for day, g := range days {
			title := fmt.Sprintf("%s %s", verbs[kind], plural(g.count, "slab"))
			if g.held > 0 {
				title += fmt.Sprintf(", %d on hold", g.held)
			}
			var lines []string
			for _, code := range slices.Sorted(maps.Keys(g.names)) {
				var who []string
				for _, name := range slices.Sorted(maps.Keys(g.names[code])) {
					if n := g.names[code][name]; n > 1 {
						name = fmt.Sprintf("%s %d", name, n)
					}
					who = append(who, name)
				}
				lines = append(lines, code+": "+strings.Join(who, ", "))
			}
			e := shop.Entry{UID: s.uid(kind, int64(day)), Kind: kind, Subject: "day", SubjectID: int64(day), Day: day, Title: title, Text: strings.Join(lines, "\n")}
			out[e.UID] = e
		}
	}
	return nil
}

// dinners says how many sit down to eat, and when. Whoever holds a seat is counted;
// somebody who has only been offered one is not.
func (s *Store) dinners(db *gorm.DB, today unit.Day, out map[string]shop.Entry) error {
	var rows []struct {
		ID       shop.ClassID
		Title    string
		Code     string
		StartsAt unit.Instant
		EndsAt   unit.Instant
		State    shop.ClassState
		Heads    int
	}
	err := db.Raw(`SELECT classes.id, classes.title, classes.code, classes.starts_at, classes.ends_at, classes.state,
			(SELECT count(*) FROM seats WHERE seats.class_id = classes.id AND seats.state IN ?) AS heads
		FROM classes JOIN class_kinds ON class_kinds.id = classes.kind_id
		WHERE class_kinds.dinner = ? AND classes.starts_at >= ? AND classes.state <> ? ORDER BY classes.id`,
		[]shop.BookingState{shop.Held, shop.Firm, shop.Came}, true, today.At(0, 0, s.Loc), shop.Sketched).Scan(&rows).Error
	if err != nil {
		return err
	}
	for _, r := range rows {
		if r.State == shop.ClassOff {
			continue // an entry that stands is marked called off, none is made
		}
		e := shop.Entry{UID: s.uid("dinner", int64(r.ID)), Kind: "dinner", Subject: "class", SubjectID: int64(r.ID),
			StartsAt: r.StartsAt, EndsAt: r.EndsAt, Title: fmt.Sprintf("Dinner for %d: %s", r.Heads, r.Title), Text: r.Code}
		out[e.UID] = e
	}
	return nil
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
