package main

import (
	"errors"
	"fmt"

	"pressrig/rig"
	"pressrig/safety"
)

// serveCmd runs the daemon of one rig.
type serveCmd struct {
	Rig    string `required:"" placeholder:"FILE" help:"Rig profile."`
	Config string `placeholder:"FILE" help:"Config of the daemon; all of it has defaults."`
	Port   string `placeholder:"DEVICE" help:"Serial device, instead of the profile's."`
	Check  bool   `help:"Only check the profile and the config."`
}

// Run serves until SIGTERM or SIGINT, which stop a running cycle in order.
func (c *serveCmd) Run(e *env) (err error) {
	p, rigErr := loadRig(c.Rig)
	cfg, cfgErr := loadConfig(c.Config, e.flags)
	if err := errors.Join(rigErr, cfgErr); err != nil {
		return err
	}
	if c.Port != "" {
		p.Port = c.Port
	}
	if c.Check {
		if _, err := shelfOf(cfg.Glasses); err != nil {
			return err
		}
		if err := warn(e, p); err != nil {
			return err
		}
		_, err := fmt.Fprintf(e.out, "rig %s: no problems\n%s\n", p.Name, safety.Notice)
		return err
	}
	if err := warn(e, p); err != nil {
		return err
	}
	log, closeLog := newLog(e.err, cfg.Level)
	defer closeLog()
	for _, w := range safety.Warnings(p) {
		log.Warn().Str("rig", p.Name).Msg(w)
	}
	s, err := newService(cfg, p, log)
	if err != nil {
		return err
	}
	err = s.run(e.ctx)
	if err != nil {
		log.Error().Err(err).Msg("the daemon ends")
	}
	return errors.Join(err, s.close())
}

// warn prints what the rig may lack and a person should know.
func warn(e *env, p *rig.Profile) error {
	for _, w := range safety.Warnings(p) {
		if _, err := fmt.Fprintf(e.out, "rig %s: warning: %s\n", p.Name, w); err != nil {
			return err
		}
	}
	return nil
}

// loadRig reads a rig profile and checks it against the standards' limits.
func loadRig(path string) (*rig.Profile, error) {
	text, err := readFile(path)
	if err != nil {
		return nil, fmt.Errorf("rig profile: %w", err)
	}
	p, err := rig.ParseProfile(path, text)
	if err != nil {
		return nil, err
	}
	if err := safety.CheckProfile(p); err != nil {
		return nil, fmt.Errorf("rig profile %s: %w", path, err)
	}
	return p, nil
}
