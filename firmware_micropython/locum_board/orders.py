"""Talk's side of the mailbox: post an order, have it obeyed, turn the answer into an error.

The player obeys in talk's own thread, between two of its beats. Within an interrupt the order's
calls would lie on top of talk's, and a Pico's stack of 8 kB does not hold both."""

from . import mailbox as play
from . import states
from .status import Fault

REFUSALS = {
    play.NO_LINE: 201,
    play.NO_LADDER: 202,
    play.NO_PLAN: 204,
    play.NOT_WHOLE: 205,
    play.NO_REST: 206,
    play.BUSY: 203,
}


def check(player, order, number=-221):
    """Refuse at once what the table refuses, before any argument is looked at."""
    command = play.ORDER_COMMAND[order]
    if states.following(player.state, command) == states.REFUSED:
        raise Fault(number, states.refusal(player.state, command))


def post(player, hands, now_ms, order, *args, number=-221):
    """Give the player an order and hear its answer; raises Fault if it is refused."""
    check(player, order, number)
    box = player.order_args
    for index, value in enumerate(args):
        box[index] = value
    player.order = order
    hands.between_beats(player.take_order, now_ms)
    reply = player.reply
    if reply == play.BY_STATE:
        raise Fault(number, states.refusal(player.state, play.ORDER_COMMAND[order]))
    if reply != play.DONE:
        raise Fault(REFUSALS.get(reply, -310))
