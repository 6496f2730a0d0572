#!/bin/sh
# who_may_not_is_told_the_group.sh - Someone without permission is told which group to join, for a camera and for a pin.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$lampread" /usr/bin/setpriv

# Nobody, in no group, may not even look into this test's folder.
as_nobody() {
    (cd / && HOME=/nonexistent setpriv --reuid=65534 --regid=65534 --clear-groups "$@")
}

# Device nodes as Debian's rules have them; the guest has no rules.
camera tern -s 160x120
chgrp video "$video"
chmod 660 "$video"
as_nobody "$lampread" read "$video" --for 1s >said.out 2>said.camera
claim "a camera that may not be opened ends with status 3" test $? = 3
claim "its group is named" grep -q 'video' said.camera
claim "and how to join it" grep -q 'usermod -aG video' said.camera
as_nobody "$lampread" sources >said.sources 2>&1
claim "the list of sources says so as well" grep -q 'usermod -aG video' said.sources
chip
chgrp dialout "/dev/$chip"
chmod 660 "/dev/$chip"
as_nobody "$lampread" read "$chip:3" --for 1s >said.out 2>said.pin
claim "a pin that may not be opened ends with status 3" test $? = 3
claim "the group that its node has is named" grep -q 'usermod -aG dialout' said.pin
drop tern
cp said.* "$OUT"
conclude
