"""Talk's side of the mailbox: post an order, wait for the player, turn its answer into an error."""

from . import mailbox as play
from . import states
from .status import Fault

MOST_TRIES = 50

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
    tries = 0
    while player.order:
        if not hands.let_player_run():
            # No timer drives the player: it acts now, in this thread.
            player.take_order(now_ms)
        tries += 1
        if tries > MOST_TRIES:
            player.order = play.ORDER_NONE
            raise Fault(301)
    reply = player.reply
    if reply == play.BY_STATE:
        raise Fault(number, states.refusal(player.state, play.ORDER_COMMAND[order]))
    if reply != play.DONE:
        raise Fault(REFUSALS.get(reply, -310))
