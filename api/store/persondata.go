package store

import (
	"context"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A PersonKey names somebody the records speak of: a guest, or the payer of a booking.
type PersonKey struct {
	Guest   shop.GuestID   // or
	Booking shop.BookingID // its payer
}

// PersonData is all the records hold of one person, for that person. Whom they came with
// is not in it, and no secret link.
type PersonData struct {
	Shop     string         `json:"shop"`
	MadeAt   unit.Instant   `json:"made_at"`
	Name     string         `json:"name"`
	Email    string         `json:"email"`
	Phone    string         `json:"phone"`
	Food     string         `json:"food" doc:"What the export says of answers about food."`
	Paid     []PaidFor      `json:"paid_for"`
	Places   []PersonPlace  `json:"places"`
	Messages []PersonNotice `json:"messages"`
	Vouchers []PersonOwned  `json:"vouchers"`
	Credits  []PersonOwned  `json:"credits"`
	Asked    []PersonAsked  `json:"private_events_asked_for"`
	keys     personKeys
}

// PaidFor is a booking the person pays for.
type PaidFor struct {
	Ref       string            `json:"ref"`
	Class     string            `json:"class"`
	StartsAt  unit.Instant      `json:"starts_at"`
	State     shop.BookingState `json:"state"`
	Seats     int               `json:"seats"`
	Total     unit.Money        `json:"total"`
	Paid      unit.Money        `json:"paid"`
	Collector string            `json:"collector"`
	Note      string            `json:"note"`
	Money     []PersonMoney     `json:"money"`
}

// PersonMoney is one movement of money.
type PersonMoney struct {
	At     unit.Instant `json:"at"`
	Cents  unit.Money   `json:"amount"`
	Method string       `json:"method"`
}

// PersonPlace is a seat of the person's own.
type PersonPlace struct {
	Ref            string            `json:"ref"`
	Class          string            `json:"class"`
	StartsAt       unit.Instant      `json:"starts_at"`
	State          shop.BookingState `json:"state"`
	Age            int               `json:"age_on_the_day,omitempty" doc:"Of somebody under 18."`
	Wine           bool              `json:"wine"`
	GuardianSigned bool              `json:"guardian_signed"`
	Food           shop.NeedsState   `json:"food"`
	Needs          []shop.NewNeed    `json:"needs,omitempty"`
	Remember       bool              `json:"remember"`
	Slabs          []PersonSlab      `json:"slabs"`
	ClassMark      string            `json:"said_of_the_class,omitempty"`
	ClassWords     string            `json:"said_of_the_class_in_words,omitempty"`
	BaconMark      string            `json:"said_of_the_bacon,omitempty"`
	BaconWords     string            `json:"said_of_the_bacon_in_words,omitempty"`
}

// PersonSlab is a slab of theirs.
type PersonSlab struct {
	Tag      string         `json:"tag"`
	State    shop.SlabState `json:"state"`
	Spice    string         `json:"spice"`
	Green    unit.Weight    `json:"green"`
	Finished unit.Weight    `json:"finished"`
	SealedOn unit.Day       `json:"sealed_on"`
	PackedOn unit.Day       `json:"packed_on"`
	Note     string         `json:"note"`
}

// PersonNotice is a message to them.
type PersonNotice struct {
	Kind  string           `json:"kind"`
	State shop.NoticeState `json:"state"`
	Due   unit.Instant     `json:"due_at"`
	Sent  unit.Instant     `json:"sent_at"`
}

// PersonOwned is a voucher or credit of theirs; its code is not in it.
type PersonOwned struct {
	What      string     `json:"what"`
	State     string     `json:"state"`
	Left      unit.Money `json:"left"`
	ExpiresOn unit.Day   `json:"expires_on"`
}

// PersonAsked is a private event they asked for.
type PersonAsked struct {
	Day   unit.Day `json:"day"`
	Heads int      `json:"heads"`
	Words string   `json:"words"`
	State string   `json:"state"`
}

// personKeys are the rows that speak of one person.
type personKeys struct {
	email    string
	bookings []shop.BookingID // they pay for
	guests   []shop.GuestID
}

// keysOf finds what belongs together: with an address, every booking and guest of that
// address whose name is not plainly another's; without one, the record named alone.
func keysOf(db *gorm.DB, k PersonKey) (personKeys, string, string, error) {
	var p personKeys
	var name, phone string
	switch {
	case k.Guest != 0:
		g, err := take[shop.Guest](db, "The person", "id = ?", k.Guest)
		if err != nil {
			return p, "", "", err
		}
		name, p.email, p.guests = g.Name, g.Email, []shop.GuestID{g.ID}
		if g.Payer {
			p.bookings = []shop.BookingID{g.BookingID}
		}
	default:
		b, err := take[shop.Booking](db, "The booking", "id = ?", k.Booking)
		if err != nil {
			return p, "", "", err
		}
		name, phone, p.email, p.bookings = b.PayerName, b.PayerPhone, b.PayerEmail, []shop.BookingID{b.ID}
		var own []shop.GuestID
		if err := db.Model(&shop.Guest{}).Where("booking_id = ? AND payer = ?", b.ID, true).Pluck("id", &own).Error; err != nil {
			return p, "", "", err
		}
		p.guests = own
	}
	if p.email == "" {
		return p, name, phone, nil
	}
	same := func(other string) bool { return name == "" || other == "" || !anotherPerson(other, name) }
	guests, err := many[shop.Guest](db, "id", "lower(email) = ?", strings.ToLower(p.email))
	if err != nil {
		return p, "", "", err
	}
	p.guests = nil
	for _, g := range guests {
		if same(g.Name) {
			p.guests = append(p.guests, g.ID)
		}
	}
	bookings, err := many[shop.Booking](db, "id", "lower(payer_email) = ?", strings.ToLower(p.email))
	if err != nil {
		return p, "", "", err
	}
	p.bookings = nil
	for _, b := range bookings {
		if same(b.PayerName) {
			p.bookings = append(p.bookings, b.ID)
			phone = b.PayerPhone
		}
	}
	return p, name, phone, nil
}

// PersonData gathers all of one person. byLink leaves out what was answered about food:
// a link may have passed through other hands, and whom somebody came with never reads it.
func (s *Store) PersonData(ctx context.Context, k PersonKey, byLink bool) (*PersonData, error) {
	return s.personData(s.read(ctx), k, byLink)
}

func (s *Store) personData(db *gorm.DB, k PersonKey, byLink bool) (*PersonData, error) {
	keys, name, phone, err := keysOf(db, k)
	if err != nil {
		return nil, err
	}
	if byLink { // the link opens this booking, not a life
		if k.Guest != 0 {
			keys.guests = []shop.GuestID{k.Guest}
			keys.bookings = nil
		} else {
			keys.bookings = []shop.BookingID{k.Booking}
			keys.guests, err = payersSeat(db, k.Booking)
			if err != nil {
				return nil, err
			}
		}
	}
	d := &PersonData{Shop: s.Config.Shop, MadeAt: s.Now(), Name: name, Email: keys.email, Phone: phone, keys: keys,
		Paid: []PaidFor{}, Places: []PersonPlace{}, Messages: []PersonNotice{}, Vouchers: []PersonOwned{}, Credits: []PersonOwned{}, Asked: []PersonAsked{}}
	if byLink {
		d.Food = "Whether something was answered is here, what is not: this link may have passed through other hands. Ask us at the counter and you read it there."
	}
	for _, id := range keys.bookings {
		if err := d.addPaid(db, id); err != nil {
			return nil, err
		}
	}
	for _, id := range keys.guests {
		if err := d.addPlace(db, id, byLink); err != nil {
			return nil, err
		}
	}
	return d, s.addOwned(db, d, byLink)
}

func payersSeat(db *gorm.DB, b shop.BookingID) ([]shop.GuestID, error) {
	var own []shop.GuestID
	err := db.Model(&shop.Guest{}).Where("booking_id = ? AND payer = ?", b, true).Pluck("id", &own).Error
	return own, err
}

func (d *PersonData) addPaid(db *gorm.DB, id shop.BookingID) error {
	b, err := take[shop.Booking](db, "The booking", "id = ?", id)
	if err != nil {
		return err
	}
	c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
	if err != nil {
		return err
	}
	p := PaidFor{Ref: b.Ref(), Class: c.Title, StartsAt: c.StartsAt, State: b.State, Total: b.TotalCents, Paid: b.PaidCents, Collector: b.Collector, Note: b.Note, Money: []PersonMoney{}}
	var seats int64
	if err := db.Model(&shop.Seat{}).Where("booking_id = ? AND state IN ?", b.ID, waitingOrStanding).Count(&seats).Error; err != nil {
		return err
	}
	p.Seats = int(seats)
	money, err := many[shop.Payment](db, "id", "booking_id = ?", b.ID)
	if err != nil {
		return err
	}
	for _, m := range money {
		p.Money = append(p.Money, PersonMoney{m.At, m.Cents, m.Method})
	}
	d.Paid = append(d.Paid, p)
	return nil
}

func (d *PersonData) addPlace(db *gorm.DB, id shop.GuestID, byLink bool) error {
	g, err := take[shop.Guest](db, "The person", "id = ?", id)
	if err != nil {
		return err
	}
	seat, err := take[shop.Seat](db.Order("id DESC"), "The seat", "guest_id = ?", g.ID)
	if err != nil {
		return err
	}
	b, err := take[shop.Booking](db, "The booking", "id = ?", g.BookingID)
	if err != nil {
		return err
	}
	c, err := take[shop.Class](db, "The class", "id = ?", seat.ClassID)
	if err != nil {
		return err
	}
	p := PersonPlace{Ref: b.Ref(), Class: c.Title, StartsAt: c.StartsAt, State: seat.State, Age: g.Age, Wine: g.Wine, GuardianSigned: g.GuardianSigned,
		Food: g.NeedsState, Remember: g.Remember, Slabs: []PersonSlab{}}
	if byLink && p.Food != shop.NotTold {
		p.Food = "answered"
	}
	if !byLink {
		needs, err := many[shop.Need](db, "id", "guest_id = ?", g.ID)
		if err != nil {
			return err
		}
		for _, n := range needs {
			p.Needs = append(p.Needs, shop.NewNeed{Allergen: n.Allergen, Severe: n.Severe, Words: n.Words})
		}
	}
	err = db.Raw(`SELECT slabs.tag, slabs.state, COALESCE(jars.name, '') AS spice, slabs.green, slabs.finished, slabs.sealed_on, slabs.packed_on, COALESCE(picks.note, '') AS note
		FROM slabs LEFT JOIN jars ON jars.id = slabs.jar_id LEFT JOIN picks ON picks.seat_id = slabs.seat_id AND picks.slot = slabs.slot
		WHERE slabs.seat_id = ? ORDER BY slabs.number`, seat.ID).Scan(&p.Slabs).Error
	if err != nil {
		return err
	}
	said, err := many[shop.Review](db, "id", "guest_id = ?", g.ID)
	if err != nil {
		return err
	}
	for _, r := range said {
		p.ClassMark, p.ClassWords, p.BaconMark, p.BaconWords = r.ClassMark, r.ClassWords, r.BaconMark, r.BaconWords
	}
	d.Places = append(d.Places, p)
	return nil
}

// addOwned adds messages, vouchers, credits and requests. By a link, the messages are
// those about its own records, and what belongs to the address alone stays out.
func (s *Store) addOwned(db *gorm.DB, d *PersonData, byLink bool) error {
	none := []int64{0}
	notices, err := many[shop.Notice](db, "due_at, id", "(subject = 'booking' AND subject_id IN ? OR subject = 'guest' AND subject_id IN ?) AND (to_addr = ? OR ? = '')",
		orNone(d.keys.bookings, none), orNone(d.keys.guests, none), d.keys.email, d.keys.email)
	if err != nil {
		return err
	}
	for _, n := range notices {
		d.Messages = append(d.Messages, PersonNotice{n.Kind, n.State, n.DueAt, n.SentAt})
	}
	if byLink || d.keys.email == "" {
		return nil
	}
	mail := strings.ToLower(d.keys.email)
	vouchers, err := many[shop.Voucher](db, "id", "lower(buyer_email) = ? OR lower(receiver_email) = ?", mail, mail)
	if err != nil {
		return err
	}
	for _, v := range vouchers {
		what := "bought"
		if strings.ToLower(v.BuyerEmail) != mail {
			what = "received"
		}
		d.Vouchers = append(d.Vouchers, PersonOwned{what + " " + v.Kind + " voucher", string(v.State), v.LeftCents, v.ExpiresOn})
	}
	credits, err := many[shop.Credit](db, "id", "lower(owner_email) = ?", mail)
	if err != nil {
		return err
	}
	for _, c := range credits {
		d.Credits = append(d.Credits, PersonOwned{c.Reason, string(c.State), c.LeftCents, c.ExpiresOn})
	}
	asked, err := many[shop.QuoteRequest](db, "id", "lower(email) = ?", mail)
	if err != nil {
		return err
	}
	for _, r := range asked {
		d.Asked = append(d.Asked, PersonAsked{r.Day, r.Heads, r.Words, r.State})
	}
	return nil
}

func orNone[T any](ids []T, none []int64) any {
	if len(ids) == 0 {
		return none
	}
	return ids
}
