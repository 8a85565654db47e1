# Le courtier : `broker setup` et `broker test`.


## broker

broker-as_it_should = Les fichiers du courtier sont comme il faut ; rien n’a été changé.
broker-will_write = Voici ce qui sera écrit :
broker-doors = Le moniteur se connecte à 127.0.0.1, port { $monitor } ; les cartes au port { $boards }, chiffré.
broker-names = Le certificat du courtier porte : { $names }
broker-new_ca = La ferme reçoit sa propre autorité (CA) dans { $folder }. Garder une copie de ce dossier en lieu sûr : sans lui, chaque carte a besoin d’une nouvelle fiche.
broker-new_cards = Toute fiche faite auparavant est sans valeur avec la nouvelle autorité. Pour chaque carte : { $command }
broker-dry_run = Rien n’a été écrit (--dry-run).
broker-sure = L’écrire ? (o ou n)
broker-written = Écrit.
broker-restarted = mosquitto est prévenu et tourne avec les nouveaux fichiers.
broker-next_restart = Ensuite : { $command }
broker-next_reload = Ensuite : { $command }
broker-next_unit = Puis : { $command }
broker-next_monitor = Si le moniteur tourne, le redémarrer : { $command }
broker-next_test = Puis le prouver : { $command }
broker-next_board = Puis une carte : { $command }
broker-proven = Le courtier sépare les cartes, et elles sont entendues.
broker-from_here = Essayé depuis cet ordinateur ; un pare-feu qui arrête les cartes, seule une carte le voit.
broker-failed =
    { $count ->
        [one] { $count } essai a échoué.
       *[other] { $count } essais ont échoué.
    }
