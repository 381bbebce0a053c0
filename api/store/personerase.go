package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"flitchbook/api/shop"
)

// Erased stands where a name stood.
const Erased = "(erased)"

// AskErase notes that somebody asked, by their own link, to have their data erased, and
// tells the owner once. A link can fall into other hands, so that a person decides.
func (s *Store) AskErase(ctx context.Context, k PersonKey) error {
	return s.tx(ctx, func(t tx) error {
		subject, id := "guest", int64(k.Guest)
		if k.Guest == 0 {
			subject, id = "booking", int64(k.Booking)
		}
		if err := t.note(shop.Customer("by link"), subject, id, "asked to be erased", "", "", ""); err != nil {
			return err
		}
		var b *shop.Booking
		var err error
		if k.Guest != 0 {
			b, err = take[shop.Booking](t.DB, "The booking", "id = (SELECT booking_id FROM guests WHERE id = ?)", k.Guest)
		} else {
			b, err = take[shop.Booking](t.DB, "The booking", "id = ?", k.Booking)
		}
		if err != nil {
			return err
		}
		return t.tellShop(shop.Notice{Key: fmt.Sprintf("erase/%s/%d", subject, id), Kind: shop.NoticeOwnerTask, Subject: subject, SubjectID: id},
			shop.Facts{Ref: b.Ref(), Reason: "Somebody of this booking asks to have their data erased.", Lines: []string{"Open the booking, then the person, then their data."}})
	})
}

// bars lists what still needs the name: a seat ahead, bacon not fetched, money owed
// either way. Those are settled first, by the usual ways.
func (t tx) bars(keys personKeys) ([]string, error) {
	none := []int64{0}
	var ahead, slabs int64
	err := t.Raw(`SELECT count(*) FROM seats JOIN classes ON classes.id = seats.class_id WHERE (seats.guest_id IN ? OR seats.booking_id IN ?)
		AND seats.state IN ? AND classes.ends_at > ?`, orNone(keys.guests, none), orNone(keys.bookings, none),
		[]shop.BookingState{shop.Waiting, shop.Offered, shop.Held, shop.Firm, shop.Came}, t.now).Scan(&ahead).Error
	if err != nil {
		return nil, err
	}
	err = t.Raw(`SELECT count(*) FROM slabs JOIN seats ON seats.id = slabs.seat_id WHERE (seats.guest_id IN ? OR seats.booking_id IN ?) AND slabs.state NOT IN ?`,
		orNone(keys.guests, none), orNone(keys.bookings, none), shop.SlabsDone).Scan(&slabs).Error
	if err != nil {
		return nil, err
	}
	var out []string
	if ahead > 0 {
		out = append(out, "There is a seat in a class ahead: let it go first.")
	}
	if slabs > 0 {
		out = append(out, "There is bacon not fetched yet: we could not hand it over.")
	}
	for _, id := range keys.bookings {
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
		if err != nil {
			return nil, err
		}
		if b.AnswerUntil > t.now {
			out = append(out, b.Ref()+" has still to choose after we called off or moved its class.")
		}
		if b.State.Holds() && b.Owes() != 0 {
			out = append(out, b.Ref()+" is not settled: "+b.Owes().String()+" is open.")
		}
	}
	mail := strings.ToLower(keys.email)
	var going int64 // a message that is with the sender keeps its words until it has left
	err = t.Raw(`SELECT count(*) FROM notices WHERE state = ? AND leased_until > ? AND (subject = 'guest' AND subject_id IN ? OR subject = 'booking' AND subject_id IN ?
		OR to_addr <> '' AND lower(to_addr) = ?)`, shop.ToSend, t.now, orNone(keys.guests, none), orNone(keys.bookings, none), mail).Scan(&going).Error
	if err != nil {
		return nil, err
	}
	if going > 0 {
		out = append(out, "A message to them is being sent this moment: try again in a few minutes.")
	}
	if mail == "" {
		return out, nil
	}
	var open int64
	if err := t.Model(&shop.Credit{}).Where("lower(owner_email) = ? AND state = ? AND left_cents > 0", mail, shop.CreditOpen).Count(&open).Error; err != nil {
		return nil, err
	}
	if open > 0 {
		out = append(out, "We owe a credit: it must be used, paid out or run out first.")
	}
	var cards int64
	if err := t.Model(&shop.Voucher{}).Where("lower(buyer_email) = ? AND state = ?", mail, shop.VoucherSold).Count(&cards).Error; err != nil {
		return nil, err
	}
	if cards > 0 {
		out = append(out, "A voucher of theirs is not sent yet.")
	}
	paying, err := many[shop.Checkout](t.DB, "id", "sale <> '' AND state IN ?", []shop.CheckoutState{shop.CheckoutNew, shop.CheckoutOpen})
	if err != nil {
		return nil, err
	}
	for _, k := range paying {
		var n shop.NewVoucher
		if err := json.Unmarshal([]byte(k.Sale), &n); err != nil {
			return nil, fmt.Errorf("checkout %d: %w", k.ID, err)
		}
		if strings.EqualFold(n.BuyerEmail, mail) || strings.EqualFold(n.ReceiverEmail, mail) {
			out = append(out, "A voucher is being paid for online: the page ends within the hour.")
			break
		}
	}
	return out, nil
}

// EraseBars says what stands in the way of erasing somebody.
func (s *Store) EraseBars(ctx context.Context, k PersonKey) ([]string, error) {
	var out []string
	err := s.tx(ctx, func(t tx) error {
		keys, _, _, err := keysOf(t.DB, k)
		if err != nil {
			return err
		}
		out, err = t.bars(keys)
		return err
	})
	return out, err
}

// ErasePerson takes somebody's name, addresses, answers and words out of the records, at
// their wish. What safety and the books need stays without them: which slab was whose
// booking's, what was weighed and handed out, what was paid. It cannot be undone; in a
// recall this person can no longer be reached.
func (s *Store) ErasePerson(ctx context.Context, by shop.Actor, k PersonKey, why string) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	if why = trim(why); why == "" {
		return field("why", "Write how they asked, such as: by letter of Nov 3.")
	}
	return s.tx(ctx, func(t tx) error {
		if k.Guest != 0 {
			if err := t.lock("guests", int64(k.Guest)); err != nil {
				return err
			}
		} else if err := t.lock("bookings", int64(k.Booking)); err != nil {
			return err
		}
		keys, name, _, err := keysOf(t.DB, k)
		if err != nil {
			return err
		}
		no, err := t.bars(keys)
		if err != nil {
			return err
		}
		if len(no) > 0 {
			return shop.Stop("not_settled", "%s", strings.Join(no, " "))
		}
		for _, id := range keys.guests {
			if err := t.eraseGuest(by, id, why); err != nil {
				return err
			}
		}
		for _, id := range keys.bookings {
			if err := t.erasePayer(by, id, why); err != nil {
				return err
			}
		}
		if err := t.eraseTrail(keys, name); err != nil {
			return err
		}
		return t.eraseOwned(keys)
	})
}

func (t tx) eraseGuest(by shop.Actor, id shop.GuestID, why string) error {
	for _, q := range []string{"DELETE FROM needs WHERE guest_id = ?", "DELETE FROM reviews WHERE guest_id = ?",
		"UPDATE picks SET note = '' WHERE seat_id IN (SELECT id FROM seats WHERE guest_id = ?)"} {
		if err := t.Exec(q, id).Error; err != nil {
			return err
		}
	}
	no, hash := t.s.newLink("guest") // the old link stops working
	res := t.Model(&shop.Guest{}).Where("id = ?", id).Updates(map[string]any{"name": Erased, "email": "", "age": 0, "wine": false, "remember": false,
		"needs_state": shop.NotTold, "link_no": no, "token_hash": hash})
	if err := changed(res, shop.Missing("The person")); err != nil {
		return err
	}
	if err := t.eraseNotices("guest", int64(id)); err != nil {
		return err
	}
	return t.note(by, "guest", int64(id), "erased at their wish", "", "", why)
}

func (t tx) erasePayer(by shop.Actor, id shop.BookingID, why string) error {
	no, hash := t.s.newLink("booking")
	res := t.Model(&shop.Booking{}).Where("id = ?", id).Updates(map[string]any{"payer_name": Erased, "payer_email": "", "payer_phone": "", "collector": "", "collector_mail": "",
		"note": "", "link_no": no, "token_hash": hash, "slab_hash": t.s.slabHash(no)})
	if err := changed(res, shop.Missing("The booking")); err != nil {
		return err
	}
	if err := t.Exec("UPDATE resales SET owner_name = ?, owner_email = '' WHERE booking_id = ?", Erased, id).Error; err != nil {
		return err
	}
	if err := t.Exec("UPDATE payments SET note = '' WHERE booking_id = ?", id).Error; err != nil {
		return err
	}
	if err := t.eraseNotices("booking", int64(id)); err != nil {
		return err
	}
	return t.note(by, "booking", int64(id), "payer erased at their wish", "", "", why)
}

// eraseNotices calls back what has not left and takes names and words out of what has;
// its key stays, so that nothing is told twice.
func (t tx) eraseNotices(subject string, id int64) error {
	if err := t.untell(subject, id); err != nil {
		return err
	}
	return t.Exec("UPDATE notices SET to_name = '', to_addr = '', facts = '{}', last_error = '' WHERE subject = ? AND subject_id = ? AND state <> ?", subject, id, shop.ToSend).Error
}

// eraseTrail takes the name out of hand-overs and of who was named to fetch. That a packet
// was handed out, when and by whom, stays.
func (t tx) eraseTrail(keys personKeys, name string) error {
	none := []int64{0}
	for _, id := range keys.bookings {
		err := t.Exec("UPDATE history SET from_state = '', to_state = '', detail = '' WHERE subject = 'booking' AND subject_id = ? AND what IN ('collector', 'collected')", id).Error
		if err != nil {
			return err
		}
	}
	if name == "" {
		return nil
	}
	return t.Exec(`UPDATE steps SET reading = ? WHERE to_state = ? AND reading LIKE 'to %' AND slab_id IN
		(SELECT slabs.id FROM slabs JOIN seats ON seats.id = slabs.seat_id WHERE seats.booking_id IN ? OR seats.guest_id IN ?)`,
		"to "+Erased, shop.Collected, orNone(keys.bookings, none), orNone(keys.guests, none)).Error
}

// eraseLetters does what eraseNotices does for messages about other things than a booking or
// a person: credits, vouchers, payments that could not be used, answers. What the shop was
// told of their refunds and gifts goes with them.
func (t tx) eraseLetters(keys personKeys, mail string) error {
	const theirs = "lower(to_addr) = ? AND subject NOT IN ('booking', 'guest')"
	err := t.Model(&shop.Notice{}).Where(theirs+" AND state = ? AND leased_until <= ?", mail, shop.ToSend, t.now).Update("state", shop.Cancelled).Error
	if err != nil {
		return err
	}
	if err := t.Exec("UPDATE notices SET to_name = '', to_addr = '', facts = '{}', last_error = '' WHERE "+theirs+" AND state <> ?", mail, shop.ToSend).Error; err != nil {
		return err
	}
	return t.Exec(`UPDATE notices SET facts = '{}' WHERE state <> ? AND (subject = 'voucher' AND subject_id IN (SELECT id FROM vouchers WHERE lower(buyer_email) = ?)
		OR subject = 'refund' AND subject_id IN (SELECT id FROM refunds WHERE booking_id IN ?))`, shop.ToSend, mail, orNone(keys.bookings, []int64{0})).Error
}

// eraseSales takes the person out of presents they bought or were to be given online: the
// name stands in what was asked for.
func (t tx) eraseSales(mail string) error {
	sales, err := many[shop.Checkout](t.DB, "id", "sale <> ''")
	if err != nil {
		return err
	}
	for _, k := range sales {
		var n shop.NewVoucher
		if err := json.Unmarshal([]byte(k.Sale), &n); err != nil {
			return fmt.Errorf("checkout %d: %w", k.ID, err)
		}
		buys, gets := strings.EqualFold(n.BuyerEmail, mail), strings.EqualFold(n.ReceiverEmail, mail)
		if !buys && !gets {
			continue
		}
		if buys {
			n.BuyerName, n.BuyerEmail = Erased, ""
		}
		if gets {
			n.ReceiverName, n.ReceiverEmail = Erased, ""
		}
		sale, err := json.Marshal(n)
		if err != nil {
			return err
		}
		if err := t.Model(&shop.Checkout{}).Where("id = ?", k.ID).Update("sale", string(sale)).Error; err != nil {
			return err
		}
	}
	return nil
}

// eraseOwned takes the person out of vouchers and credits that are done with, and out of
// requests for private events.
func (t tx) eraseOwned(keys personKeys) error {
	if keys.email == "" {
		return nil
	}
	mail := strings.ToLower(keys.email)
	if err := t.eraseLetters(keys, mail); err != nil {
		return err
	}
	if err := t.eraseSales(mail); err != nil {
		return err
	}
	for _, q := range []struct {
		sql  string
		args []any
	}{
		{"UPDATE credits SET owner_name = ?, owner_email = '' WHERE lower(owner_email) = ?", []any{Erased, mail}},
		{"UPDATE vouchers SET buyer_name = ?, buyer_email = '' WHERE lower(buyer_email) = ?", []any{Erased, mail}},
		{"UPDATE vouchers SET receiver_name = ?, receiver_email = '' WHERE lower(receiver_email) = ?", []any{Erased, mail}},
		{"UPDATE quote_requests SET name = ?, email = '', phone = '', words = '' WHERE lower(email) = ?", []any{Erased, mail}},
		{"UPDATE bookings SET collector = '', collector_mail = '' WHERE lower(collector_mail) = ?", []any{mail}},
	} {
		if err := t.Exec(q.sql, q.args...).Error; err != nil {
			return err
		}
	}
	return nil
}
