package main

import (
	"cmp"
	"context"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/mail"
)

// A sender hands one notice to the world.
type sender = func(context.Context, shop.Notice, shop.Facts) error

// mailConfig is how notices leave and what they say of the shop.
type mailConfig struct {
	MailFolder       string `default:"data/mail" help:"Folder that messages are written to while no mail server is named." placeholder:"DIR"`
	MailFrom         string `help:"Address messages come from. Needed with a mail server." placeholder:"ADDRESS"`
	MailReplyTo      string `help:"Address that answers go to. None: where they come from." placeholder:"ADDRESS"`
	SMTPHost         string `name:"smtp-host" help:"Mail server." placeholder:"NAME"`
	SMTPPort         int    `name:"smtp-port" default:"587" help:"Its port."`
	SMTPUser         string `name:"smtp-user" help:"User to sign in with at the mail server." placeholder:"NAME"`
	SMTPPasswordFile string `name:"smtp-password-file" help:"File with that user's password, readable by nobody else." placeholder:"FILE"`
	SMTPSecurity     string `name:"smtp-security" default:"starttls" enum:"starttls,tls,plain" help:"How the way to the mail server is kept private: starttls, tls or plain (a server on this machine)."`
	ShopPlace        string `help:"Town, as in messages. None: the one of the furnishing." placeholder:"NAME"`
	ShopAddress      string `help:"Street and number, as in messages. None: those of the furnishing." placeholder:"TEXT"`
	ShopPhone        string `help:"Telephone, as in messages. None: the one of the furnishing." placeholder:"NUMBER"`
}

// check refuses settings that contradict one another.
func (c mailConfig) check() error {
	for name, addr := range map[string]string{"--mail-from": c.MailFrom, "--mail-reply-to": c.MailReplyTo} {
		if addr == "" {
			continue
		}
		if err := mail.CheckAddress(addr); err != nil {
			return badSetting("%s: %v", name, err)
		}
	}
	if c.SMTPHost == "" {
		if c.SMTPUser != "" || c.SMTPPasswordFile != "" {
			return badSetting("there is a user or a password file for a mail server, but no server: give --smtp-host")
		}
		return nil
	}
	if c.MailFrom == "" {
		return badSetting("a mail server is named, but no address that messages come from: give --mail-from")
	}
	if err := c.smtp().Check(); err != nil {
		return badSetting("%v", err)
	}
	if c.SMTPPasswordFile != "" {
		if _, err := readable("mail server's password file", c.SMTPPasswordFile); err != nil {
			return err
		}
	}
	if c.SMTPSecurity == string(mail.Plain) && !isLoopback(c.SMTPHost) {
		return badSetting("plain mail to %s would show every secret link to whoever listens on the way: use starttls or tls", c.SMTPHost)
	}
	return nil
}

func (c mailConfig) smtp() mail.SMTP {
	return mail.SMTP{Host: c.SMTPHost, Port: c.SMTPPort, User: c.SMTPUser, PasswordFile: c.SMTPPasswordFile, Security: mail.Security(c.SMTPSecurity)}
}

// sender is what hands notices on: to the mail server, or into the folder.
func (c mailConfig) sender(ctx context.Context, st *store.Store) (sender, error) {
	h, err := c.house(ctx, st)
	if err != nil {
		return nil, err
	}
	if err := h.Check(); err != nil {
		return nil, settingsError{err}
	}
	if c.SMTPHost == "" {
		return mail.Deliverer(h, mail.Folder{Dir: c.MailFolder}), nil
	}
	return mail.Deliverer(h, c.smtp()), nil
}

// house is what messages say of the shop.
func (c mailConfig) house(ctx context.Context, st *store.Store) (mail.House, error) {
	at, err := st.Address(ctx)
	if err != nil {
		return mail.House{}, err
	}
	at.Place, at.Street, at.Phone = cmp.Or(c.ShopPlace, at.Place), cmp.Or(c.ShopAddress, at.Street), cmp.Or(c.ShopPhone, at.Phone)
	from := c.MailFrom
	if from == "" {
		from = "shop@" + st.Config.Domain
	}
	return mail.House{
		Name: st.Config.Shop, Place: at.Place, Address: at.Street, Phone: at.Phone,
		Loc: st.Loc, Rules: st.Rules, From: from, ReplyTo: c.MailReplyTo, Domain: st.Config.Domain, BaseURL: st.Config.BaseURL,
	}, nil
}
