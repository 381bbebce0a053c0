package store

import (
	"context"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// ShelfLine is one packet that waits: on the shelf, in the freezer, or packed and not
// yet shelved.
type ShelfLine struct {
	Place     string
	Tag       string
	BookingID shop.BookingID
	Ref       string
	Name      string // payer, or "the shop"
	Fetches   string // whoever is named to fetch, "" for the payer
	Jar       string
	Allergens string
	Days      int  // on the shelf
	Told      bool // the ready message has gone or is on its way
	UseBy     unit.Day
	FreezeOn  unit.Day // R38
	Over      bool     // to the freezer now: its last day has ended
	State     shop.SlabState
	Held      bool
}

// Shelf reads what waits to be fetched, by place.
func (s *Store) Shelf(ctx context.Context) ([]ShelfLine, error) {
	return s.shelfLines(s.read(ctx), "1 = 1")
}

func (s *Store) shelfLines(db *gorm.DB, where string, args ...any) ([]ShelfLine, error) {
	var rows []struct {
		ShelfLine
		ShelfAt unit.Instant
		Number  int
		Payer   string
		Notice  int
	}
	args = append([]any{shop.NoticeReady, shop.Cancelled, []shop.SlabState{shop.Packed, shop.OnShelf, shop.InFreezer}, shop.OnHold, []shop.SlabState{shop.Packed, shop.OnShelf, shop.InFreezer}}, args...)
	err := db.Raw(`SELECT slabs.tag, slabs.state, slabs.use_by, slabs.shelf_at, coalesce(places.code, '') AS place, coalesce(bookings.id, 0) AS booking_id, coalesce(bookings.number, 0) AS number,
		coalesce(bookings.payer_name, '') AS payer, coalesce(bookings.collector, '') AS fetches, coalesce(jars.name, '') AS jar, coalesce(jars.allergens, '') AS allergens,
		(SELECT count(*) FROM notices WHERE notices.kind = ? AND notices.subject = 'booking' AND notices.subject_id = bookings.id AND notices.state <> ?) AS notice
		FROM slabs LEFT JOIN placements ON placements.slab_id = slabs.id AND placements.until_at = 0 LEFT JOIN places ON places.id = placements.place_id
		LEFT JOIN seats ON seats.id = slabs.seat_id LEFT JOIN bookings ON bookings.id = seats.booking_id LEFT JOIN jars ON jars.id = slabs.jar_id
		WHERE (slabs.state IN ? OR slabs.state = ? AND slabs.held_from IN ?) AND (`+where+`) ORDER BY places.id, slabs.tag`, args...).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	out := make([]ShelfLine, 0, len(rows))
	for _, r := range rows {
		l := r.ShelfLine
		l.Held = l.State == shop.OnHold
		l.Name = "the shop"
		if l.BookingID != 0 {
			l.Name, l.Ref, l.Told = r.Payer, shop.Ref(r.Number), r.Notice > 0
		}
		if r.ShelfAt != 0 {
			day0 := r.ShelfAt.Day(s.Loc)
			l.Days = int(s.Today() - day0)
			if l.State == shop.OnShelf {
				if l.FreezeOn, err = s.openDay(db, day0+unit.Day(s.Rules.FreezeDay)); err != nil {
					return nil, err
				}
				l.Over = s.Now() >= l.FreezeOn.At(s.Rules.CounterClose, 0, s.Loc)
			}
		}
		out = append(out, l)
	}
	return out, nil
}

// ShelfPlaces reads the shelf place by place, the empty ones too: Tag is "" there.
func (s *Store) ShelfPlaces(ctx context.Context) ([]ShelfLine, error) {
	lines, err := s.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	places, err := many[shop.Place](s.read(ctx), "id", "kind = ?", shop.Shelf)
	if err != nil {
		return nil, err
	}
	out := make([]ShelfLine, len(places))
	for i, p := range places {
		out[i].Place = p.Code
		for _, l := range lines {
			if l.Place == p.Code {
				l.Name = firstName(l.Name)
				out[i] = l
			}
		}
	}
	return out, nil
}

// Pickup is a party as the counter hands it over: every packet that lies ready, and
// what is still to come.
type Pickup struct {
	Booking shop.Booking
	Ready   []ShelfLine
	ToCome  []string // tags, with where they are
	May     []string // who may fetch: whoever is named, the payer, the party's guests
}

// Where names the places of what lies ready.
func (p Pickup) Where() string {
	freezer, shelf := []string{}, []string{}
	for _, l := range p.Ready {
		switch {
		case l.State == shop.InFreezer:
			freezer = append(freezer, l.Place)
		default:
			shelf = append(shelf, l.Place)
		}
	}
	var out []string
	if len(shelf) > 0 {
		out = append(out, "shelf "+strings.Join(shelf, " and "))
	}
	if len(freezer) > 0 {
		out = append(out, "freezer "+strings.Join(freezer, " and "))
	}
	return strings.Join(out, ", ")
}

// FindPickups looks for parties with packets by how a name or a part of it begins, a booking number, the
// end of a phone number or a tag; those with something ready first.
func (s *Store) FindPickups(ctx context.Context, q string) ([]Pickup, error) {
	q = strings.ToLower(trim(q))
	if tag := ScannedTag(q); strings.Contains(tag, "-") {
		q = strings.ToLower(tag)
	}
	if q == "" {
		return nil, nil
	}
	first := strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(q) + "%"
	word := "% " + first
	number := strings.TrimLeft(strings.TrimPrefix(q, "k"), "0")
	bookings, err := many[shop.Booking](s.read(ctx).Limit(20), "number", `id IN (SELECT seats.booking_id FROM seats JOIN slabs ON slabs.seat_id = seats.id WHERE slabs.state NOT IN ?)
		AND (lower(payer_name) LIKE ? ESCAPE '\' OR lower(payer_name) LIKE ? ESCAPE '\' OR lower(collector) LIKE ? ESCAPE '\' OR lower(collector) LIKE ? ESCAPE '\' OR cast(number AS text) = ?
			OR replace(replace(payer_phone, ' ', ''), '-', '') LIKE ?
			OR id IN (SELECT booking_id FROM guests WHERE lower(name) LIKE ? ESCAPE '\' OR lower(name) LIKE ? ESCAPE '\')
			OR id IN (SELECT seats.booking_id FROM seats JOIN slabs ON slabs.seat_id = seats.id WHERE lower(slabs.tag) = ?))`,
		shop.SlabsDone, first, word, first, word, number, phoneEnd(q), first, word, q)
	if err != nil {
		return nil, err
	}
	var out []Pickup
	for _, b := range bookings {
		p, err := s.pickup(ctx, &b)
		if err != nil {
			return nil, err
		}
		out = append(out, *p)
	}
	// Those who can be served now come first.
	slices.SortStableFunc(out, func(a, b Pickup) int { return min(len(b.Ready), 1) - min(len(a.Ready), 1) })
	return out, nil
}

// Pickup reads one party.
func (s *Store) Pickup(ctx context.Context, id shop.BookingID) (*Pickup, error) {
	b, err := take[shop.Booking](s.read(ctx), "The booking", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.pickup(ctx, b)
}

func (s *Store) pickup(ctx context.Context, b *shop.Booking) (*Pickup, error) {
	p := &Pickup{Booking: *b}
	var guests []string
	if err := s.read(ctx).Model(&shop.Guest{}).Where("booking_id = ?", b.ID).Order("id").Pluck("name", &guests).Error; err != nil {
		return nil, err
	}
	for _, n := range append([]string{b.Collector, b.PayerName}, guests...) {
		if n = trim(n); n != "" && !slices.Contains(p.May, n) {
			p.May = append(p.May, n)
		}
	}
	lines, err := s.shelfLines(s.read(ctx), "bookings.id = ?", b.ID)
	if err != nil {
		return nil, err
	}
	ready := map[string]bool{}
	for _, l := range lines {
		if l.State == shop.OnShelf || l.State == shop.InFreezer {
			p.Ready = append(p.Ready, l)
			ready[l.Tag] = true
		}
	}
	slabs, err := many[shop.Slab](s.read(ctx), "number", "seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state NOT IN ?", b.ID,
		shop.SlabsDone)
	if err != nil {
		return nil, err
	}
	for _, sl := range slabs {
		if !ready[sl.Tag] {
			p.ToCome = append(p.ToCome, sl.Tag+" ("+string(sl.State)+")")
		}
	}
	return p, nil
}
