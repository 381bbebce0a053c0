package store

import (
	"context"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A NoticeLine is one message as the owner sees it: whom it is for and how it stands,
// not what it says.
type NoticeLine struct {
	ID        shop.NoticeID
	Kind      string
	ToName    string
	ToAddr    string
	About     string // "booking K28", "order 3"
	DueAt     unit.Instant
	SentAt    unit.Instant
	Attempts  int
	LastError string
}

// What is the kind in words: "Class moved".
func (l NoticeLine) What() string {
	if l.Kind == "" {
		return ""
	}
	return strings.ToUpper(l.Kind[:1]) + strings.ReplaceAll(l.Kind[1:], "-", " ")
}

// NoticeBoard is how the shop's messages stand.
type NoticeBoard struct {
	Failing  []NoticeLine // tried and not gone; soonest next try first
	Waiting  []NoticeLine // soonest first
	More     int          // waiting beyond those listed
	CameBack []NoticeLine // latest first
	Sent     []NoticeLine // latest first
}

// noticesShown bounds each list of the board.
const noticesShown = 50

// Notices reads the board.
func (s *Store) Notices(ctx context.Context) (*NoticeBoard, error) {
	var b NoticeBoard
	for _, part := range []struct {
		to    *[]NoticeLine
		where string
		state shop.NoticeState
		order string
	}{
		{&b.Failing, "notices.state = ? AND notices.attempts > 0 AND notices.last_error <> ''", shop.ToSend, "notices.due_at, notices.id"},
		{&b.Waiting, "notices.state = ? AND NOT (notices.attempts > 0 AND notices.last_error <> '')", shop.ToSend, "notices.due_at, notices.id"},
		{&b.CameBack, "notices.state = ?", shop.CameBack, "notices.sent_at DESC, notices.id DESC"},
		{&b.Sent, "notices.state = ?", shop.Sent, "notices.sent_at DESC, notices.id DESC"},
	} {
		var rows []struct {
			NoticeLine
			Subject   string
			SubjectID int64
			Booking   int
			Order     int `gorm:"column:order_number"`
		}
		err := s.read(ctx).Raw(`SELECT shown.id, shown.kind, shown.to_name, shown.to_addr, shown.due_at, shown.sent_at, shown.attempts,
				shown.last_error, shown.subject, shown.subject_id, coalesce(bookings.number, 0) AS booking, coalesce(orders.number, 0) AS order_number
			FROM (SELECT * FROM notices WHERE `+part.where+` ORDER BY `+part.order+` LIMIT ?) shown
			LEFT JOIN guests ON shown.subject = 'guest' AND guests.id = shown.subject_id
			LEFT JOIN bookings ON (shown.subject IN ('booking', 'shelf') AND bookings.id = shown.subject_id) OR bookings.id = guests.booking_id
			LEFT JOIN orders ON shown.subject = 'order' AND orders.id = shown.subject_id
			ORDER BY `+strings.ReplaceAll(part.order, "notices.", "shown."), part.state, noticesShown).Scan(&rows).Error
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			switch {
			case r.Booking != 0:
				r.About = "booking " + shop.Ref(r.Booking)
			case r.Order != 0:
				r.About = shop.Order{Number: r.Order}.Ref()
			}
			*part.to = append(*part.to, r.NoticeLine)
		}
	}
	var all int64
	err := s.read(ctx).Model(&shop.Notice{}).Where("state = ? AND NOT (attempts > 0 AND last_error <> '')", shop.ToSend).Count(&all).Error
	b.More = int(all) - len(b.Waiting)
	return &b, err
}

// TryNow makes a message that has not left due at once, quiet hours or not.
func (s *Store) TryNow(ctx context.Context, by shop.Actor, id shop.NoticeID) error {
	return s.tx(ctx, func(t tx) error {
		n, err := take[shop.Notice](t.DB, "The message", "id = ?", id)
		if err != nil {
			return err
		}
		if n.State != shop.ToSend {
			return shop.Stop("not_waiting", "This message is %s: there is nothing to try.", n.State)
		}
		res := t.Model(&shop.Notice{}).Where("id = ? AND state = ? AND leased_until <= ?", id, shop.ToSend, t.now).Update("due_at", t.now)
		if err := changed(res, shop.Stop("being_sent", "This message is being sent this moment.")); err != nil {
			return err
		}
		t.onCommit(t.s.poke)
		return t.note(by, "notice", int64(id), "tried at once", "", "", n.Kind)
	})
}

// MarkCameBack notes that a message that left has come back: somebody must reach the
// person another way.
func (s *Store) MarkCameBack(ctx context.Context, by shop.Actor, id shop.NoticeID) error {
	return s.tx(ctx, func(t tx) error {
		n, err := take[shop.Notice](t.DB, "The message", "id = ?", id)
		if err != nil {
			return err
		}
		if err := shop.NoticeMoves.Check(n.State, shop.CameBack); err != nil {
			return err
		}
		res := t.Model(&shop.Notice{}).Where("id = ? AND state = ?", id, shop.Sent).Update("state", shop.CameBack)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		return t.note(by, "notice", int64(id), "came back", string(shop.Sent), string(shop.CameBack), n.Kind)
	})
}
