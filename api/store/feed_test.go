package store_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// secretOf takes the secret out of a feed's address.
func secretOf(t *testing.T, link string) string {
	t.Helper()
	s, ok := strings.CutPrefix(link, "https://corbel.example.test/calendar/")
	s, ok2 := strings.CutSuffix(s, ".ics")
	if !ok || !ok2 || len(s) < 26 { // 128 bits in base 32
		t.Fatalf("the address is %q", link)
	}
	return s
}

func do(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// layTable puts down what other use cases would: two bacon classes, a clinic with a
// dinner and a private party; a booking with three slabs; an order of each of two farms.
func layTable(t *testing.T, h *storetest.House) {
	t.Helper()
	h.Go("2026-10-31 19:00")
	var bacon, pig shop.ClassKind
	do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
		if err := db.Where("code = 'bacon'").Take(&bacon).Error; err != nil {
			return err
		}
		if err := db.Where("code = 'pig'").Take(&pig).Error; err != nil {
			return err
		}
		class := func(id int64, code string, k shop.ClassKind, at string, taken int, state shop.ClassState, private bool) *shop.Class {
			from := h.At(at)
			return &shop.Class{ID: shop.ClassID(id), Code: code, KindID: k.ID, Title: k.Name, StartsAt: from, EndsAt: from.Add(150 * time.Minute), Day: from.Day(h.Loc), Seats: 10, SeatsTaken: taken, MinSeats: 6, State: state, Private: private, CreatedAt: 1}
		}
		for _, v := range []any{
			class(4, "B4", bacon, "2026-10-31 14:00", 8, shop.Taught, false),
			class(5, "B5", bacon, "2026-11-07 14:00", 4, shop.Open, false),
			class(6, "B6", bacon, "2026-11-14 13:00", 8, shop.GoingAhead, false),
			class(7, "P2", bacon, "2026-11-14 17:30", 8, shop.GoingAhead, true),
			class(8, "X9", bacon, "2026-12-12 14:00", 0, shop.Sketched, false),
			class(9, "D4", pig, "2026-11-05 18:00", 3, shop.Open, false),
			class(10, "D2", pig, "2026-10-22 18:00", 0, shop.ClassOff, false),
			&shop.Booking{ID: 20, Number: 19, ClassID: 4, State: shop.Came, PayerName: "Petra M.", TokenHash: "a", CreatedAt: 1},
			&shop.Guest{ID: 30, BookingID: 20, Name: "Petra M.", Payer: true, TokenHash: "b"},
			&shop.Guest{ID: 31, BookingID: 20, Name: "", TokenHash: "c"},
			&shop.Seat{ID: 40, BookingID: 20, ClassID: 4, GuestID: 30, Kind: shop.SlabSeat, Slabs: 1, Position: 1, State: shop.Came},
			&shop.Seat{ID: 41, BookingID: 20, ClassID: 4, GuestID: 31, Kind: shop.SlabSeat, Slabs: 1, Position: 2, State: shop.Came},
			&shop.Booking{ID: 21, Number: 47, ClassID: 9, State: shop.Firm, PayerName: "Edda R.", TokenHash: "d", CreatedAt: 1},
			&shop.Guest{ID: 32, BookingID: 21, Name: "Edda R.", Payer: true, TokenHash: "e"},
			&shop.Seat{ID: 42, BookingID: 21, ClassID: 9, GuestID: 32, Kind: shop.GuestSeat, Position: 1, State: shop.Firm},
			&shop.Seat{ID: 43, BookingID: 21, ClassID: 9, GuestID: 32, Kind: shop.GuestSeat, Position: 2, State: shop.Offered},
			&shop.Slab{ID: 50, Tag: "B4-01", ClassID: 4, Number: 1, SeatID: 40, Slot: 1, State: shop.InCure, SmokeOn: unit.DayOf(2026, 11, 13), ReadyOn: unit.DayOf(2026, 11, 14)},
			&shop.Slab{ID: 51, Tag: "B4-02", ClassID: 4, Number: 2, SeatID: 41, Slot: 1, State: shop.OnHold, HeldFrom: shop.InCure, ReadyOn: unit.DayOf(2026, 11, 14)},
			&shop.Slab{ID: 52, Tag: "B4-03", ClassID: 4, Number: 3, Demo: true, State: shop.InCure, SmokeOn: unit.DayOf(2026, 11, 13), ReadyOn: unit.DayOf(2026, 11, 14)},
			&shop.Slab{ID: 53, Tag: "B4-04", ClassID: 4, Number: 4, State: shop.Dumped, ReadyOn: unit.DayOf(2026, 11, 14)},
		} {
			if err := db.Create(v).Error; err != nil {
				return err
			}
		}
		return nil
	}))
	for id, code := range map[int64]string{4: "B4", 5: "B5", 6: "B6", 7: "P2", 8: "X9", 9: "D4", 10: "D2"} {
		at := map[int64]string{4: "2026-10-31 14:00", 5: "2026-11-07 14:00", 6: "2026-11-14 13:00", 7: "2026-11-14 17:30", 8: "2026-12-12 14:00", 9: "2026-11-05 18:00", 10: "2026-10-22 18:00"}[id]
		do(t, h.SetEntry(h.Ctx, shop.Entry{UID: uid("class", id), Kind: "class", Subject: "class", SubjectID: id, StartsAt: h.At(at), EndsAt: h.At(at).Add(150 * time.Minute), Title: "Class " + code, Text: code, Cancelled: code == "D2"}))
	}
	do(t, h.SetEntry(h.Ctx, shop.Entry{UID: uid("booking-class", 20), Kind: "class", Subject: "booking", SubjectID: 20, StartsAt: h.At("2026-10-31 14:00"), EndsAt: h.At("2026-10-31 16:30"), Title: "Bacon-curing class"}))
	do(t, h.SetEntry(h.Ctx, shop.Entry{UID: uid("ready", 20), Kind: "ready", Subject: "booking", SubjectID: 20, Day: unit.DayOf(2026, 11, 14), Title: "Bacon ready about"}))
}

func uid(kind string, id int64) string { return fmt.Sprintf("%s-%d@corbel.example.test", kind, id) }

func titles(es []shop.Entry) []string {
	out := []string{}
	for _, e := range es {
		mark := ""
		if e.Cancelled {
			mark = " (off)"
		}
		out = append(out, e.Title+mark)
	}
	slices.Sort(out)
	return out
}

func TestPublicFeed(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layTable(t, h)
		f, err := h.PublicEntries(h.Ctx)
		do(t, err)
		// No party of somebody's own, no sketch; what was called off stays.
		want := []string{"Class B4", "Class B5", "Class B6", "Class D2 (off)", "Class D4"}
		if got := titles(f.Entries); !slices.Equal(got, want) {
			t.Errorf("public feed %q, want %q", got, want)
		}
		for _, e := range f.Entries {
			for _, name := range []string{"Petra", "Edda", "K19"} {
				if strings.Contains(e.Title+e.Text, name) {
					t.Errorf("the public feed names %s: %+v", name, e)
				}
			}
			if e.Title == "Class B5" && !strings.Contains(e.Text, "6 seats left") {
				t.Errorf("six seats are left: %q", e.Text)
			}
			if e.Title == "Class B6" && strings.Contains(e.Text, "left") { // two are
				t.Errorf("a small number of seats is told: %q", e.Text)
			}
			if !strings.Contains(e.Text, "https://corbel.example.test/classes/"+e.Title[6:]) {
				t.Errorf("no address of the class: %q", e.Text)
			}
		}
		h.Go("2026-11-21 18:00") // thirty days past D2's
		if f, err = h.PublicEntries(h.Ctx); err != nil || !slices.Contains(titles(f.Entries), "Class D2 (off)") {
			t.Errorf("thirty days on: %v, %v", titles(f.Entries), err)
		}
		h.Go("2027-03-01 18:00")
		if f, err = h.PublicEntries(h.Ctx); err != nil || len(f.Entries) != 0 {
			t.Errorf("long past: %v, %v", titles(f.Entries), err)
		}
	})
}

func TestSecretFeeds(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layTable(t, h)
		owner, staff, kitchen := addAccount(t, h, "odile", shop.Owner), addAccount(t, h, "nadia", shop.Staff), addAccount(t, h, "jun", shop.Kitchen)
		as := func(a *shop.Account) shop.Actor {
			return shop.Actor{Kind: "staff", ID: a.ID, Name: a.Name, Role: a.Role}
		}
		read := func(link string) []string {
			t.Helper()
			f, err := h.FeedEntries(h.Ctx, secretOf(t, link))
			do(t, err)
			return titles(f.Entries)
		}
		open := func(by shop.Actor, kind string, subject int64) string {
			t.Helper()
			link, err := h.OpenFeed(h.Ctx, by, kind, subject)
			do(t, err)
			return link
		}
		mine := open(shop.Customer("payer of K19"), store.CustomerFeed, 20)
		if again := open(shop.Customer("payer of K19"), store.CustomerFeed, 20); again != mine {
			t.Errorf("opened twice, two addresses: %s, %s", mine, again)
		}
		if got, want := read(mine), []string{"Bacon ready about", "Bacon-curing class"}; !slices.Equal(got, want) {
			t.Errorf("customer's feed %q, want %q", got, want)
		}
		// Unbag Thu Nov 12, smoke Fri 13, pack Sat 14 (R28); the held slab has only its
		// ready-about day; the dumped one is in nothing.
		nadias := open(as(staff), store.StaffFeed, int64(staff.ID))
		want := []string{"Class B4", "Class B5", "Class B6", "Class D2 (off)", "Class D4", "Class P2", "Class X9", "Pack 3 slabs, 1 on hold", "Smoke 3 slabs, 1 on hold", "Unbag 3 slabs, 1 on hold"}
		if got := read(nadias); !slices.Equal(got, want) {
			t.Errorf("staff's feed %q, want %q", got, want)
		}
		if got := read(open(as(kitchen), store.KitchenFeed, int64(kitchen.ID))); !slices.Equal(got, []string{"Dinner for 1: Pig butchery clinic"}) {
			t.Errorf("kitchen's feed %q: one has a seat, another was only offered one", got)
		}
		if got := read(open(as(owner), store.OwnerFeed, int64(owner.ID))); !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, "Closed") }) {
			t.Errorf("owner's feed %q has no closed days", got)
		}
		for _, no := range []struct {
			by      shop.Actor
			kind    string
			subject int64
		}{
			{shop.Customer("x"), store.StaffFeed, int64(staff.ID)}, {as(kitchen), store.StaffFeed, int64(kitchen.ID)}, {as(staff), store.StaffFeed, int64(owner.ID)},
			{as(staff), store.OwnerFeed, int64(staff.ID)}, {as(kitchen), store.CustomerFeed, 20}, {shop.Customer("x"), store.FarmFeed, 1}, {as(owner), "public", 0},
		} {
			if link, err := h.OpenFeed(h.Ctx, no.by, no.kind, no.subject); !errors.Is(err, shop.ErrNotAllowed) {
				t.Errorf("%s feed of %d opened by %s: %s, %v", no.kind, no.subject, no.by.Name, link, err)
			}
			if _, err := h.RenewFeed(h.Ctx, no.by, no.kind, no.subject); !errors.Is(err, shop.ErrNotAllowed) {
				t.Errorf("%s feed renewed by %s: %v", no.kind, no.by.Name, err)
			}
		}
		gone := func(link, why string) {
			t.Helper()
			if _, err := h.FeedEntries(h.Ctx, secretOf(t, link)); err == nil || !strings.Contains(err.Error(), "could not be found") {
				t.Errorf("%s: %v", why, err)
			}
		}
		renewed, err := h.RenewFeed(h.Ctx, as(staff), store.StaffFeed, int64(staff.ID))
		do(t, err)
		gone(nadias, "the old address")
		if got := read(renewed); !slices.Equal(got, want) {
			t.Errorf("the new address gives %q", got)
		}
		do(t, h.DisableAccount(h.Ctx, storetest.Odile, "nadia"))
		gone(renewed, "an account that was shut")
		gone("https://corbel.example.test/calendar/abcdefghijkmnpqrstuvwxyz23.ics", "a guess")
		if links, err := h.FeedsFor(h.Ctx, as(owner)); err != nil || len(links) != 3+4 { // her own three, and one for each of four farms
			t.Errorf("the owner may have %d calendars, %v", len(links), err)
		}
		if links, err := h.FeedsFor(h.Ctx, as(kitchen)); err != nil || len(links) != 1 || links[0].Kind != store.KitchenFeed {
			t.Errorf("the kitchen's calendars: %v, %v", links, err)
		}
	})
}

// R41: one UID for life; SEQUENCE up on each change and only then; what is called off
// stays.
func TestReckonedEntriesKeepTheirUIDs(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layTable(t, h)
		a := addAccount(t, h, "nadia", shop.Staff)
		link, err := h.OpenFeed(h.Ctx, shop.Actor{Kind: "staff", ID: a.ID, Role: a.Role}, store.StaffFeed, int64(a.ID))
		do(t, err)
		entries := func() map[string]shop.Entry {
			f, err := h.FeedEntries(h.Ctx, secretOf(t, link))
			do(t, err)
			out := map[string]shop.Entry{}
			for _, e := range f.Entries {
				out[e.UID] = e
			}
			return out
		}
		smoke := func(d unit.Day) string { return uid("smoke", int64(d)) }
		nov13, nov17 := unit.DayOf(2026, 11, 13), unit.DayOf(2026, 11, 17)
		first := entries()
		if e := first[smoke(nov13)]; e.Sequence != 0 || e.Text != "B4: Petra 2, shop" {
			t.Errorf("smoke day: %+v", e)
		}
		h.Clock.Add(time.Hour)
		if again := entries()[smoke(nov13)]; again != first[smoke(nov13)] {
			t.Errorf("nothing changed, but: %+v", again)
		}
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			return db.Exec("UPDATE slabs SET smoke_on = '2026-11-17', ready_on = '2026-11-18' WHERE id IN (50, 52)").Error
		}))
		moved := entries()
		if e := moved[smoke(nov13)]; e.Sequence != 1 || e.Title != "Smoke 1 slab, 1 on hold" || e.Cancelled || e.ChangedAt != h.Now() {
			t.Errorf("after two went: %+v", e)
		}
		if e := moved[smoke(nov17)]; e.Sequence != 0 || e.Title != "Smoke 2 slabs" {
			t.Errorf("where they went: %+v", e)
		}
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			return db.Exec("UPDATE slabs SET ready_on = '2026-11-18' WHERE id = 51").Error
		}))
		if e := entries()[smoke(nov13)]; e.Sequence != 2 || !e.Cancelled {
			t.Errorf("an empty day is called off, not gone: %+v", e)
		}
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			return db.Exec("UPDATE slabs SET ready_on = '2026-11-14' WHERE id = 51").Error
		}))
		if e := entries()[smoke(nov13)]; e.Sequence != 3 || e.Cancelled {
			t.Errorf("and comes back as itself: %+v", e)
		}
	})
}

func TestFarmFeedIsOfOneFarm(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		h.Go("2026-10-01 09:00")
		var farms []shop.Farm
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			if err := db.Order("id").Find(&farms).Error; err != nil {
				return err
			}
			var plant shop.Plant
			if err := db.Take(&plant).Error; err != nil {
				return err
			}
			if err := db.Create(&shop.KillDay{ID: 60, PlantID: plant.ID, Day: unit.DayOf(2026, 10, 21), DeliveryDay: unit.DayOf(2026, 10, 22)}).Error; err != nil {
				return err
			}
			for i, f := range farms[:2] {
				for asked := range 2 { // one drafted only, one sent
					id := int64(70 + 2*i + asked)
					if err := db.Create(&shop.Order{ID: shop.OrderID(id), Number: int(id), FarmID: f.ID, KillDayID: 60, Species: "pork", State: shop.Needed, AskedAt: unit.Instant(asked), TokenHash: uid("o", id)}).Error; err != nil {
						return err
					}
				}
			}
			return nil
		}))
		for id := int64(70); id < 74; id++ {
			for _, kind := range []string{"order-by", "kill", "delivery"} {
				do(t, h.SetEntry(h.Ctx, shop.Entry{UID: uid(kind, id), Kind: kind, Subject: "order", SubjectID: id, Day: unit.DayOf(2026, 10, 21), Title: kind}))
			}
		}
		link, err := h.OpenFeed(h.Ctx, shop.Actor{Kind: "farm", Name: farms[1].Name}, store.FarmFeed, int64(farms[1].ID))
		do(t, err)
		f, err := h.FeedEntries(h.Ctx, secretOf(t, link))
		do(t, err)
		var got []string
		for _, e := range f.Entries {
			got = append(got, e.UID)
		}
		slices.Sort(got)
		if want := []string{uid("delivery", 73), uid("kill", 73)}; !slices.Equal(got, want) {
			t.Errorf("the farm sees %q, want %q", got, want)
		}
	})
}
