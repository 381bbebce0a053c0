package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// AddAccount lets a person sign in.
func (s *Store) AddAccount(ctx context.Context, by shop.Actor, n shop.NewAccount) (*shop.Account, error) {
	n.Login, n.Name = strings.ToLower(trim(n.Login)), trim(n.Name)
	if err := n.Check(); err != nil {
		return nil, err
	}
	hash, err := s.hashPassword(ctx, n.Password)
	if err != nil {
		return nil, err
	}
	var a shop.Account
	err = s.tx(ctx, func(t tx) error {
		a = shop.Account{Login: n.Login, Name: n.Name, Role: n.Role, Under18: n.Under18, PasswordHash: hash, CreatedAt: t.now}
		// Looked for first: a broken UNIQUE ends the whole transaction on PostgreSQL.
		var there int64
		if err := t.Model(&shop.Account{}).Where("login = ?", n.Login).Count(&there).Error; err != nil {
			return err
		}
		if there > 0 {
			return loginTaken(n.Login)
		}
		if err := t.Create(&a).Error; err != nil {
			if isDuplicate(err) {
				return loginTaken(n.Login)
			}
			return err
		}
		return t.note(by, "account", int64(a.ID), "added", "", string(a.Role), a.Login)
	})
	if err != nil {
		return nil, err
	}
	a.PasswordHash = ""
	return &a, nil
}

func loginTaken(login string) error {
	e := shop.Stop("login_taken", "There is already an account with the login %q.", login)
	e.Fields = map[string]string{"login": e.Text}
	return e
}

// Accounts lists everybody who may sign in or once might, without their hashes.
func (s *Store) Accounts(ctx context.Context) ([]shop.Account, error) {
	return many[shop.Account](s.read(ctx).Omit("password_hash"), "login", "1 = 1")
}

// SetPassword gives an account another password. Every session of it ends.
func (s *Store) SetPassword(ctx context.Context, by shop.Actor, login, password string) error {
	login = strings.ToLower(trim(login))
	if err := shop.CheckNewPassword(login, password); err != nil {
		return err
	}
	hash, err := s.hashPassword(ctx, password)
	if err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		a, err := take[shop.Account](t.DB, "The account "+login, "login = ?", login)
		if err != nil {
			return err
		}
		if err := t.Model(&shop.Account{}).Where("id = ?", a.ID).Update("password_hash", hash).Error; err != nil {
			return err
		}
		return t.note(by, "account", int64(a.ID), "password set", "", "", "")
	})
}

// DisableAccount ends an account's sessions and lets nobody sign in with it again. The
// account stays in the trail. The last owner cannot be disabled: nobody could run the
// shop any more.
func (s *Store) DisableAccount(ctx context.Context, by shop.Actor, login string) error {
	login = strings.ToLower(trim(login))
	return s.tx(ctx, func(t tx) error {
		a, err := take[shop.Account](t.DB, "The account "+login, "login = ?", login)
		if err != nil {
			return err
		}
		if a.Disabled {
			return nil
		}
		if a.Role == shop.Owner {
			// Owners are touched in one order, so that two who disable each other at
			// one moment cannot both succeed.
			if err := t.Exec("UPDATE accounts SET disabled = disabled WHERE role = ?", shop.Owner).Error; err != nil {
				return err
			}
			var others int64
			err := t.Model(&shop.Account{}).Where("role = ? AND disabled = ? AND id <> ?", shop.Owner, false, a.ID).Count(&others).Error
			if err != nil {
				return err
			}
			if others == 0 {
				return shop.Stop("last_owner", "%s is the last owner who can sign in; add another owner first.", a.Name)
			}
		}
		if err := t.Model(&shop.Account{}).Where("id = ?", a.ID).Update("disabled", true).Error; err != nil {
			return err
		}
		return t.note(by, "account", int64(a.ID), "disabled", "", "", "")
	})
}

// errWrongLogin is the one answer to a wrong login, a wrong password and a disabled
// account.
var errWrongLogin = shop.ErrSignIn.Saying("This login and password do not belong together.")

// CheckPassword returns the account a login and password belong to, and the stamp its
// session carries (see SignedIn).
func (s *Store) CheckPassword(ctx context.Context, login, password string) (*shop.Account, string, error) {
	if len(password) > 4*shop.PasswordMax {
		return nil, "", errWrongLogin
	}
	var a shop.Account
	err := s.read(ctx).Where("login = ? AND disabled = ?", strings.ToLower(trim(login)), false).Take(&a).Error
	if err != nil && !errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, "", err
	}
	ok, err := s.matches(ctx, a.PasswordHash, password)
	if err != nil {
		return nil, "", err
	}
	if !ok {
		return nil, "", errWrongLogin
	}
	stamp := stampOf(a)
	a.PasswordHash = ""
	return &a, stamp, nil
}

// SignedIn turns what a session carries into the actor, as the account stands now. It
// reports false when the account was disabled or got another password since.
func (s *Store) SignedIn(ctx context.Context, id shop.AccountID, stamp string) (shop.Actor, bool, error) {
	var a shop.Account
	err := s.read(ctx).Where("id = ? AND disabled = ?", id, false).Take(&a).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return shop.Actor{}, false, nil
	}
	if err != nil || !sameSecret(stampOf(a), stamp) {
		return shop.Actor{}, false, err
	}
	return shop.Actor{Kind: "staff", ID: a.ID, Name: a.Name, Role: a.Role}, true, nil
}

// stampOf changes whenever the password does.
func stampOf(a shop.Account) string {
	h := sha256.Sum256([]byte(a.PasswordHash))
	return hex.EncodeToString(h[:8])
}
