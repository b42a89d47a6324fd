"""State machines: one transition table a kind of item, read by everything that needs one.

``tables`` holds the data, ``compiled`` the fast form that replay steps through, ``machine`` the
same tables as ``transitions`` machines (the test oracle), ``diagram`` their pictures and text.
Nothing is re-exported here: ``machine`` and ``diagram`` import third-party libraries, and
start-up must not.
"""
