package glass

import "fmt"

// Shelf is the glasses of one workshop: the built-in ones and its own. The nil
// Shelf has the built-in ones alone.
type Shelf struct {
	own []*Glass // in the order in which they were put there
}

// Put adds a glass of one's own. A name that is taken is refused: a stored
// recipe must not come to mean another glass.
func (s *Shelf) Put(g *Glass) error {
	if _, taken := Named(g.Name); taken {
		return fmt.Errorf("%s is a built-in glass; give your own another name", g.Name)
	}
	if _, taken := s.Named(g.Name); taken {
		return fmt.Errorf("a second glass %s; each needs a name of its own", g.Name)
	}
	s.own = append(s.own, g)
	return nil
}

// Named finds a glass by its name.
func (s *Shelf) Named(name string) (Glass, bool) {
	if s != nil {
		for _, g := range s.own {
			if g.Name == name {
				return *g, true
			}
		}
	}
	return Named(name)
}

// Names lists the glasses, one's own last.
func (s *Shelf) Names() []string {
	all := Names()
	if s != nil {
		for _, g := range s.own {
			all = append(all, g.Name)
		}
	}
	return all
}
