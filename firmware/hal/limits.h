// The limits of the standards that no configuration may pass, checked at every
// start: the same as the Go function safety.CheckConfig, which has the clause of
// each. A configuration outside them keeps the outputs off for good.
#ifndef LIMITS_H
#define LIMITS_H

#include "../core/warden.h"

bool limits_hold(const warden_config *c);

#endif
