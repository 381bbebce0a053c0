package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"golang.org/x/term"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// keeper is whoever runs a command on the shop's own machine.
var keeper = shop.Actor{Kind: "shop", Name: "the command line"}

// withStore runs do on the open records.
func (c shopConfig) withStore(p *program, do func(*store.Store) error) error {
	st, err := openStore(p.ctx, c, p.now, p.random, c.logger(p.err))
	if err != nil {
		return err
	}
	return errors.Join(do(st), st.Close())
}

type userCmd struct {
	Add      userAddCmd      `cmd:"" help:"Let a person sign in."`
	List     userListCmd     `cmd:"" help:"Who can sign in."`
	Disable  userDisableCmd  `cmd:"" help:"End a person's sessions and let them sign in no more."`
	Password userPasswordCmd `cmd:"" help:"Give a person another password; their sessions end."`
}

type userAddCmd struct {
	shopConfig
	Login   string `arg:"" help:"What they sign in with."`
	Name    string `required:"" help:"The name the others know them by."`
	Role    string `required:"" enum:"owner,staff,kitchen" help:"owner, staff or kitchen."`
	Under18 bool   `name:"under-18" help:"May not use, set up or wash saw, slicer or grinder."`
}

func (c *userAddCmd) Run(p *program) error {
	password, err := p.password()
	if err != nil {
		return err
	}
	return c.withStore(p, func(st *store.Store) error {
		a, err := st.AddAccount(p.ctx, keeper, shop.NewAccount{Login: c.Login, Name: c.Name, Role: shop.Role(c.Role), Under18: c.Under18, Password: password})
		if err != nil {
			return err
		}
		fmt.Fprintf(p.out, "%s can sign in as %s (%s).\n", a.Name, a.Login, a.Role)
		return nil
	})
}

type userListCmd struct {
	shopConfig
}

func (c *userListCmd) Run(p *program) error {
	return c.withStore(p, func(st *store.Store) error {
		all, err := st.Accounts(p.ctx)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "LOGIN\tNAME\tROLE\tNOTE")
		for _, a := range all {
			var notes []string
			if a.Disabled {
				notes = append(notes, "disabled")
			}
			if a.Under18 {
				notes = append(notes, "under 18")
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", a.Login, a.Name, a.Role, strings.Join(notes, ", "))
		}
		return w.Flush()
	})
}

type userDisableCmd struct {
	shopConfig
	Login string `arg:"" help:"Whose account."`
}

func (c *userDisableCmd) Run(p *program) error {
	return c.withStore(p, func(st *store.Store) error {
		if err := st.DisableAccount(p.ctx, keeper, c.Login); err != nil {
			return err
		}
		fmt.Fprintf(p.out, "%s can sign in no more.\n", c.Login)
		return nil
	})
}

type userPasswordCmd struct {
	shopConfig
	Login string `arg:"" help:"Whose account."`
}

func (c *userPasswordCmd) Run(p *program) error {
	password, err := p.password()
	if err != nil {
		return err
	}
	return c.withStore(p, func(st *store.Store) error {
		if err := st.SetPassword(p.ctx, keeper, c.Login, password); err != nil {
			return err
		}
		fmt.Fprintf(p.out, "%s has a new password; open sessions have ended.\n", c.Login)
		return nil
	})
}

// password asks for a password at a terminal, without showing it, or takes the first
// line of standard input. It is never an option: those can be read by others.
func (p *program) password() (string, error) {
	if f, ok := p.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		fmt.Fprintf(p.err, "Password (at least %d characters): ", shop.PasswordMin)
		b, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(p.err)
		return string(b), err
	}
	line, err := bufio.NewReader(io.LimitReader(p.in, 4096)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", err
	}
	line = strings.TrimRight(line, "\r\n")
	if line == "" {
		return "", errors.New("give the password on standard input")
	}
	return line, nil
}
