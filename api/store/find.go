package store

import (
	"context"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A Found is one hit of the counter's search.
type Found struct {
	BookingID shop.BookingID
	Number    int
	Ref       string
	Name      string
	State     shop.BookingState
	Class     string
	StartsAt  unit.Instant
	Owes      unit.Money
	Tags      []string
	Also      []string // others of the party, or who fetches, whose names answer
	Packets   int      // that wait to be fetched
	Where     string   // and their places
}

// mostFound bounds one answer; more means: type more of the name.
const mostFound = 50

// Find looks for bookings by name of payer, guest or collector, by slab tag, by the end of
// a phone number, or by booking number. Newest class first.
func (s *Store) Find(ctx context.Context, q string) ([]Found, error) {
	q = trim(q)
	db := s.read(ctx)
	if len(q) == 1 && q >= "1" && q <= "9" {
		q = "K0" + q // a booking's number; as a part of anything else it says too little
	}
	if len([]rune(q)) < 2 {
		return nil, field("q", "Please type at least two letters or digits.")
	}
	like := "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(strings.ToLower(q)) + "%"
	number := -1
	if n, err := strconv.Atoi(strings.TrimLeft(strings.ToUpper(q), "K")); err == nil {
		number = n
	}
	rows, err := many[shop.Booking](db.Limit(mostFound), "id DESC", `number = ? OR lower(payer_name) LIKE ? ESCAPE '\' OR lower(collector) LIKE ? ESCAPE '\'
		OR lower(payer_email) LIKE ? ESCAPE '\' OR `+phoneDigits+` LIKE ?
		OR id IN (SELECT booking_id FROM guests WHERE lower(name) LIKE ? ESCAPE '\')
		OR id IN (SELECT seats.booking_id FROM seats JOIN slabs ON slabs.seat_id = seats.id WHERE lower(slabs.tag) LIKE ? ESCAPE '\')`,
		number, like, like, like, phoneEnd(q), like, like)
	if err != nil {
		return nil, err
	}
	out := make([]Found, 0, len(rows))
	for _, b := range rows {
		c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
		if err != nil {
			return nil, err
		}
		f := Found{BookingID: b.ID, Number: b.Number, Ref: b.Ref(), Name: b.PayerName, State: b.State, Class: c.Code, StartsAt: c.StartsAt, Owes: b.Owes()}
		if err := db.Raw("SELECT slabs.tag FROM slabs JOIN seats ON seats.id = slabs.seat_id WHERE seats.booking_id = ? ORDER BY slabs.tag", b.ID).Scan(&f.Tags).Error; err != nil {
			return nil, err
		}
		if f.Packets, f.Where, err = s.waiting(ctx, &b); err != nil {
			return nil, err
		}
		err = db.Raw(`SELECT name FROM guests WHERE booking_id = ? AND lower(name) LIKE ? ESCAPE '\' AND name <> ? ORDER BY id`, b.ID, like, b.PayerName).Scan(&f.Also).Error
		if err != nil {
			return nil, err
		}
		if strings.Contains(strings.ToLower(b.Collector), strings.ToLower(q)) {
			f.Also = append(f.Also, b.Collector)
		}
		out = append(out, f)
	}
	return out, nil
}

// waiting is how many packets of a booking lie ready, and where.
func (s *Store) waiting(ctx context.Context, b *shop.Booking) (int, string, error) {
	lines, err := s.shelfLines(s.read(ctx), "bookings.id = ? AND slabs.state IN ?", b.ID, []shop.SlabState{shop.OnShelf, shop.InFreezer})
	return len(lines), Pickup{Ready: lines}.Where(), err
}

// phoneEnd is the pattern of numbers that end in q, or one that fits none: what people
// write between the digits is taken out before comparing.
func phoneEnd(q string) string {
	digits := betweenDigits.Replace(trim(q))
	if len(digits) < 3 || strings.IndexFunc(digits, func(r rune) bool { return r < '0' || r > '9' }) >= 0 {
		return "-"
	}
	return "%" + digits
}

// betweenDigits takes out what people write between the digits of a phone number.
var betweenDigits = strings.NewReplacer(" ", "", "-", "", ".", "", "(", "", ")", "", "/", "")

// phoneDigits does the same in the database.
const phoneDigits = "replace(replace(replace(replace(replace(replace(payer_phone, ' ', ''), '-', ''), '.', ''), '(', ''), ')', ''), '/', '')"
