package store

import (
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// tableWords says in the kitchen's words what each noted change means for a table. What
// is not here is not the kitchen's: details of the notes may hold money or addresses and
// are never read. Two %s stand for what it was and what it became, where those are a
// day, a class or a number of heads.
var tableWords = map[string]map[string]string{
	"class": {
		"called off":    "the class was called off",
		"moved":         "the class moved from %s to %s",
		"going ahead":   "the class goes ahead",
		"dish added":    "one dish more: %[2]s",
		"dish left out": "without one dish: %[1]s",
	},
	"booking": {
		"booked":                "seats taken, held for now",
		"firm":                  "seats are firm",
		"let go":                "seats let go",
		"moved":                 "seats moved from %s to %s",
		"called off":            "seats called off with their class",
		"offered":               "seats offered from the waiting list",
		"offer taken":           "offered seats taken, held for now",
		"final count":           "final count of the party: it was %s, it is %s",
		"accepted the new date": "coming on the new date",
	},
	"guest": {
		"answered about food": "answered about food",
		"renamed":             "the person was named or changed",
	},
	"seat": {
		"missed": "did not come",
	},
}

type tableNote struct {
	TableChange
	ID int64
}

// tableChanges lists every noted change of a class's table, the oldest first. Seats that
// left the class are still its seats here: their leaving is a change.
func (s *Store) tableChanges(db *gorm.DB, class shop.ClassID) ([]tableNote, error) {
	var rows []struct {
		ID      int64
		Subject string
		What    string
		At      unit.Instant
		Number  int
		Name    string
		Was     string
		NowIs   string
	}
	err := db.Raw(`
		SELECT h.id, h.subject, h.what, h.at, h.from_state AS was, h.to_state AS now_is, 0 AS number, '' AS name FROM history h
			WHERE h.subject = 'class' AND h.subject_id = ?
		UNION SELECT h.id, h.subject, h.what, h.at, h.from_state AS was, h.to_state AS now_is, b.number, '' FROM history h
			JOIN seats s ON s.class_id = ? AND s.booking_id = h.subject_id JOIN bookings b ON b.id = s.booking_id
			WHERE h.subject = 'booking'
		UNION SELECT h.id, h.subject, h.what, h.at, h.from_state AS was, h.to_state AS now_is, b.number, g.name FROM history h
			JOIN seats s ON s.class_id = ? AND s.guest_id = h.subject_id JOIN bookings b ON b.id = s.booking_id JOIN guests g ON g.id = s.guest_id
			WHERE h.subject = 'guest'
		UNION SELECT h.id, h.subject, h.what, h.at, h.from_state AS was, h.to_state AS now_is, b.number, g.name FROM history h
			JOIN seats s ON s.class_id = ? AND s.id = h.subject_id JOIN bookings b ON b.id = s.booking_id JOIN guests g ON g.id = s.guest_id
			WHERE h.subject = 'seat'
		ORDER BY id`, class, class, class, class).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	var out []tableNote
	for _, r := range rows {
		words, ok := tableWords[r.Subject][r.What]
		if !ok {
			continue
		}
		if strings.Contains(words, "%") {
			words = fmt.Sprintf(words, r.Was, r.NowIs)
		}
		n := tableNote{ID: r.ID, TableChange: TableChange{At: r.At, Name: r.Name, What: words}}
		if r.Subject != "class" {
			n.Booking = shop.Ref(r.Number)
		}
		out = append(out, n)
	}
	return out, nil
}
