package session

import "slices"

// Follow gives a channel that has a value whenever rows or changes came since the last
// receive; any number of them make one value. stop ends it. The first value is there at
// once, so that a follower begins by looking.
func (s *Session) Follow() (wake <-chan struct{}, stop func()) {
	c := make(chan struct{}, 1)
	c <- struct{}{}
	s.mu.Lock()
	defer s.mu.Unlock()
	list := append(slices.Clone(*s.followers.Load()), c)
	s.followers.Store(&list)
	return c, func() { s.unfollow(c) }
}

func (s *Session) unfollow(c chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := slices.DeleteFunc(slices.Clone(*s.followers.Load()), func(f chan struct{}) bool { return f == c })
	s.followers.Store(&list)
}

func (s *Session) wake() {
	for _, c := range *s.followers.Load() {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}
