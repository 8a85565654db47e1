"""What a MicroPython board runs when it starts."""

import node

node.run()
