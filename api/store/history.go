package store

import "flitchbook/api/shop"

// note adds a history row for anything but a slab.
func (t tx) note(by shop.Actor, subject string, id int64, what, from, to, detail string) error {
	return t.Create(&shop.History{Subject: subject, SubjectID: id, What: what, From: from, To: to,
		Actor: by.Name, At: t.now, Detail: detail}).Error
}
