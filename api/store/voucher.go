package store

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// leastVoucherDays is how long a voucher that comes back is good for at least (R7).
const leastVoucherDays = 90

// SellVoucher sells a present and is paid for it in the same step (R7). The receipt goes
// to the giver now; nothing reaches the receiver before the giver's day, 10:00.
func (s *Store) SellVoucher(ctx context.Context, by shop.Actor, n shop.NewVoucher, in shop.PaymentIn) (*VoucherView, error) {
	n = trimVoucher(n)
	if err := n.Check(s.Today(), by); err != nil {
		return nil, err
	}
	if err := in.Check(by); err != nil {
		return nil, err
	}
	var v shop.Voucher
	err := s.tx(ctx, func(t tx) error {
		once := Once{Key: in.Key, Fingerprint: "voucher/" + in.Cents.String()}
		if done, seen, err := t.repeated(once, "pay", shop.Itself()); err != nil || seen {
			if err == nil {
				var old *shop.Voucher
				old, err = take[shop.Voucher](t.DB, "The voucher", "id = ?", bookingID(done))
				if err == nil {
					v = *old
				}
			}
			return err
		}
		_, price, err := t.voucherPrice(n)
		if err != nil {
			return err
		}
		if in.Cents != price {
			return field("cents", "This voucher costs %s.", price)
		}
		if v, err = t.makeVoucher(by, n, price, in); err != nil {
			return err
		}
		return t.remember(once, "pay", shop.Itself(), strconv.FormatInt(int64(v.ID), 10))
	})
	if err != nil {
		return nil, err
	}
	return s.voucherView(ctx, &v)
}

func trimVoucher(n shop.NewVoucher) shop.NewVoucher {
	n.BuyerName, n.BuyerEmail, n.ReceiverName, n.ReceiverEmail = trim(n.BuyerName), trim(n.BuyerEmail), trim(n.ReceiverName), trim(n.ReceiverEmail)
	return n
}

// voucherPrice is what a voucher costs today, and the kind of a seat voucher.
func (t tx) voucherPrice(n shop.NewVoucher) (kind shop.KindID, price unit.Money, err error) {
	if n.Kind != "seat" {
		return 0, n.Cents, nil
	}
	k, err := take[shop.ClassKind](t.DB, "The kind of class", "code = ?", n.ClassKind)
	if err != nil || n.Cents != 0 {
		if k != nil {
			kind = k.ID
		}
		return kind, n.Cents, err
	}
	price, err = t.priceAt(k.ID, seatOf(k), t.now)
	return k.ID, price, err
}

// makeVoucher writes a voucher that is paid for, its payment and its notices.
func (t tx) makeVoucher(by shop.Actor, n shop.NewVoucher, price unit.Money, in shop.PaymentIn) (v shop.Voucher, err error) {
	v = shop.Voucher{Kind: n.Kind, State: shop.VoucherSold, BuyerName: n.BuyerName, BuyerEmail: n.BuyerEmail,
		ReceiverName: n.ReceiverName, ReceiverEmail: n.ReceiverEmail, SendOn: n.SendOn, SoldOn: t.today,
		ExpiresOn: t.today.AddMonths(12 * t.s.Rules.VoucherYears), PaidCents: price, LeftCents: price}
	if n.SoldOn != 0 {
		v.SoldOn, v.ExpiresOn = n.SoldOn, n.SoldOn.AddMonths(12*t.s.Rules.VoucherYears)
	}
	if v.KindID, _, err = t.voucherPrice(n); err != nil {
		return v, err
	}
	v.CodeHash = "new " + in.Key // until its number is known
	if err := t.Create(&v).Error; err != nil {
		return v, err
	}
	code := t.s.VoucherCode(v.ID)
	v.CodeHash, v.CodeEnd = hashOf(bare(code)), code[len(code)-4:]
	if err := t.Model(&shop.Voucher{}).Where("id = ?", v.ID).Updates(map[string]any{"code_hash": v.CodeHash, "code_end": v.CodeEnd}).Error; err != nil {
		return v, err
	}
	if err := t.pays(shop.Payment{VoucherID: v.ID, Cents: in.Cents, Method: in.Method, Key: in.Key, Note: in.Note, At: t.now, Actor: by.Name}); err != nil {
		return v, err
	}
	if err := t.note(by, "voucher", int64(v.ID), "sold", "", string(v.State), price.String()); err != nil {
		return v, err
	}
	return v, t.tellVoucher(&v)
}

func seatOf(k *shop.ClassKind) shop.SeatKind {
	if k.Slabs {
		return shop.SlabSeat
	}
	return shop.GuestSeat
}

func (t tx) tellVoucher(v *shop.Voucher) error {
	f := shop.Facts{Total: v.PaidCents, DueOn: v.ExpiresOn, Class: t.s.Config.Shop}
	if v.KindID != 0 {
		k, err := take[shop.ClassKind](t.DB, "The kind of class", "id = ?", v.KindID)
		if err != nil {
			return err
		}
		f.Class = k.Name
	}
	goes := v.ReceiverEmail != "" && v.SendOn != 0
	sold := f
	if goes {
		sold.Until, sold.From = max(v.SendOn.At(t.s.Rules.MorningHour, 0, t.s.Loc), t.now), v.ReceiverName
	}
	n := shop.Notice{Key: fmt.Sprintf("voucher-sold/%d", v.ID), Kind: shop.NoticeVoucherSold, ToName: v.BuyerName, ToAddr: v.BuyerEmail,
		Subject: "voucher", SubjectID: int64(v.ID), Urgent: true}
	if err := t.tell(n, sold); err != nil {
		return err
	}
	if !goes {
		return nil
	}
	f.Total, f.From = 0, v.BuyerName // no price reaches the receiver
	if v.Kind == "money" {
		f.Credit = v.PaidCents // its worth is what it is
	}
	n = shop.Notice{Key: fmt.Sprintf("voucher-gift/%d", v.ID), Kind: shop.NoticeVoucherGift, ToName: v.ReceiverName, ToAddr: v.ReceiverEmail,
		Subject: "voucher", SubjectID: int64(v.ID), DueAt: sold.Until}
	return t.tell(n, f)
}

// bare writes a code as it is hashed: without the strokes and spaces people type.
func bare(code string) string {
	return strings.ToLower(strings.NewReplacer("-", "", " ", "", "–", "").Replace(code))
}

// voucherByCode finds a voucher that may be spent.
func (t tx) voucherByCode(code string) (*shop.Voucher, error) {
	v, err := take[shop.Voucher](t.DB, "A voucher with this code", "code_hash = ?", hashOf(bare(code)))
	if e, ok := shop.AsError(err); ok && e.Kind == shop.NotFound {
		return nil, field("voucher", "We know no voucher with the code %q.", trim(code))
	}
	if err != nil {
		return nil, err
	}
	switch {
	case v.State == shop.VoucherRunOut || v.ExpiresOn < t.today:
		return nil, field("voucher", "The voucher ending in %s ran out on %s.", v.CodeEnd, v.ExpiresOn.ShowYear())
	case v.LeftCents == 0:
		return nil, field("voucher", "The voucher ending in %s has been used.", v.CodeEnd)
	}
	return v, nil
}

// useVoucher takes what a payment covers off a voucher; two at once cannot both have it. It
// returns what the voucher lost: of a seat voucher what was paid for it, at whatever price
// the seat stands now.
func (t tx) useVoucher(id shop.VoucherID, u money.Source) (took unit.Money, err error) {
	v, err := take[shop.Voucher](t.DB, "The voucher", "id = ?", id)
	if err != nil {
		return 0, err
	}
	left := v.LeftCents - u.Cents
	if u.Whole {
		left = 0 // one seat, whatever it costs now
	}
	state := shop.VoucherUsed
	if left > 0 {
		state = shop.VoucherPart
	}
	if v.State != state {
		if err := shop.VoucherMoves.Check(v.State, state); err != nil {
			return 0, err
		}
	}
	res := t.Model(&shop.Voucher{}).Where("id = ? AND left_cents = ? AND state = ?", id, v.LeftCents, v.State).
		Updates(map[string]any{"left_cents": left, "state": state})
	return v.LeftCents - left, changed(res, shop.ErrMoved.Saying("This voucher is being used somewhere else this moment."))
}

// restoreVoucher gives a voucher back what a booking had used of it (R7), and with it what
// had run out meanwhile. It returns what it gained and what of that had run out.
func (t tx) restoreVoucher(id shop.VoucherID, cents unit.Money, whole bool) (gained, revived unit.Money, err error) {
	v, err := take[shop.Voucher](t.DB, "The voucher", "id = ?", id)
	if err != nil {
		return 0, 0, err
	}
	if v.State == shop.VoucherRunOut {
		revived = v.LeftCents
	}
	left := min(v.LeftCents+cents, v.PaidCents)
	if whole {
		left = v.PaidCents
	}
	state := shop.VoucherPart
	if left == v.PaidCents {
		state = shop.VoucherSent
	}
	res := t.Model(&shop.Voucher{}).Where("id = ? AND left_cents = ?", id, v.LeftCents).
		Updates(map[string]any{"left_cents": left, "state": state, "expires_on": max(v.ExpiresOn, t.today+leastVoucherDays)})
	return left - v.LeftCents + revived, revived, changed(res, shop.ErrMoved)
}

// sendVouchers marks vouchers whose gift mail has become due, and those that ran out.
func sendVouchers(ctx context.Context, s *Store) error {
	return s.tx(ctx, func(t tx) error {
		rows, err := many[shop.Voucher](t.DB, "id", "state = ? AND send_on <= ?", shop.VoucherSold, t.today)
		if err != nil {
			return err
		}
		for _, v := range rows {
			if v.SendOn.At(s.Rules.MorningHour, 0, s.Loc) > t.now {
				continue
			}
			if err := t.Model(&shop.Voucher{}).Where("id = ? AND state = ?", v.ID, shop.VoucherSold).Update("state", shop.VoucherSent).Error; err != nil {
				return err
			}
		}
		rows, err = many[shop.Voucher](t.DB, "id", "state IN ? AND expires_on < ?", []shop.VoucherState{shop.VoucherSold, shop.VoucherSent, shop.VoucherPart}, t.today)
		if err != nil {
			return err
		}
		for _, v := range rows {
			res := t.Model(&shop.Voucher{}).Where("id = ? AND state = ? AND left_cents = ?", v.ID, v.State, v.LeftCents).Update("state", shop.VoucherRunOut)
			if res.Error != nil || res.RowsAffected == 0 {
				return res.Error // used or run out this moment by somebody else
			}
			if err := t.ranOut(shop.OwedVoucher, int64(v.ID), v.LeftCents, v.ExpiresOn); err != nil {
				return err
			}
			if err := t.note(shop.Itself(), "voucher", int64(v.ID), "run out", string(v.State), string(shop.VoucherRunOut), v.LeftCents.String()); err != nil {
				return err
			}
		}
		return nil
	})
}

func nextVoucher(ctx context.Context, s *Store) (unit.Instant, error) {
	var send, end unit.Day
	db := s.read(ctx)
	if err := db.Raw("SELECT min(send_on) FROM vouchers WHERE state = ? AND send_on IS NOT NULL", shop.VoucherSold).Scan(&send).Error; err != nil {
		return 0, err
	}
	if err := db.Raw("SELECT min(expires_on) FROM vouchers WHERE state IN ?", []shop.VoucherState{shop.VoucherSold, shop.VoucherSent, shop.VoucherPart}).Scan(&end).Error; err != nil {
		return 0, err
	}
	var first unit.Instant
	if send != 0 {
		first = send.At(s.Rules.MorningHour, 0, s.Loc)
	}
	if end != 0 {
		if at := (end + 1).At(0, 0, s.Loc); first == 0 || at < first {
			first = at
		}
	}
	return first, nil
}

// A VoucherView is a voucher as its giver or the counter sees it. The giver learns
// whether it was used, not when or with whom.
type VoucherView struct {
	ID        shop.VoucherID
	Code      string
	CodeEnd   string
	Kind      string
	KindCode  string // of a seat voucher
	ClassKind string // in words
	Does      string // what one does there
	Worth     unit.Money
	Left      unit.Money
	Used      bool
	RunOut    bool
	SendOn    unit.Day
	SoldOn    unit.Day
	ExpiresOn unit.Day
	Receiver  string
	Buyer     string
}

// Spent reports that nothing can be had for it any more.
func (v VoucherView) Spent() bool { return v.RunOut || v.Left == 0 }

func (s *Store) voucherView(ctx context.Context, v *shop.Voucher) (*VoucherView, error) {
	out := &VoucherView{ID: v.ID, Code: s.VoucherCode(v.ID), CodeEnd: v.CodeEnd, Kind: v.Kind, Worth: v.PaidCents, Left: v.LeftCents,
		Used: v.LeftCents < v.PaidCents, RunOut: v.State == shop.VoucherRunOut || v.ExpiresOn < s.Today(), SendOn: v.SendOn, SoldOn: v.SoldOn, ExpiresOn: v.ExpiresOn, Receiver: v.ReceiverName, Buyer: v.BuyerName}
	if v.KindID == 0 {
		return out, nil
	}
	k, err := take[shop.ClassKind](s.read(ctx), "The kind of class", "id = ?", v.KindID)
	if err != nil {
		return nil, err
	}
	out.KindCode, out.ClassKind, out.Does = k.Code, k.Name, k.Does
	return out, nil
}

// VoucherByCode shows a voucher to whoever holds its code.
func (s *Store) VoucherByCode(ctx context.Context, code string) (*VoucherView, error) {
	v, err := take[shop.Voucher](s.read(ctx), "A voucher with this code", "code_hash = ?", hashOf(bare(code)))
	if err != nil {
		return nil, err
	}
	return s.voucherView(ctx, v)
}
