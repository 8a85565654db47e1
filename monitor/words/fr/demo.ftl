# Ce que dit la démonstration pendant que la ferme inventée se joue.

demo-opening = Saltbush Yard est une ferme inventée : ses lieux, ses personnes et chaque mesure sont simulés.
demo-plan =
    { $days ->
        [one] { $shown } jour à partir de { $day }, { $at }, passe rapidement. Les messages aux personnes vont dans { $inbox }
       *[other] { $shown } jours à partir de { $day }, { $at }, passent rapidement. Les messages aux personnes vont dans { $inbox }
    }
demo-note =
    Réglages de la démonstration. Saltbush Yard, ses cartes et ses personnes sont inventées, et chaque mesure aussi.
    Le temps simulé commence le { $start }. Les messages vont dans le dossier { $inbox }.
demo-page = La page : { $address }  (premier mot de passe : { $password })
demo-staying = La ferme continue en temps réel, pour la page. Ctrl-C l’arrête.
demo-closing = { $published } messages MQTT ont été publiés. { $messages } messages sont allés aux personnes : { $inbox }
demo-to = à { $recipient } : { $title }

## premier mot d’une ligne
demo-farm = ferme
demo-alarm = alarme
demo-over = fin
demo-message = message
demo-monitor = service

## ce qui se passe à la ferme
demo-forgotten-tray-3-begins = Personne ne mouille le tapis du plateau d’éclosion 3 ce matin.
demo-forgotten-tray-3-ends = Le soigneur mouille le tapis du plateau d’éclosion 3.
demo-forgotten-bin-6-begins = Le bac 6 est sous un ventilateur et ne reçoit pas d’eau.
demo-unknown_board-node-15-begins = Une carte absente des réglages commence à émettre.
demo-loose_cable-node-10-begins = Le câble de la sonde du bac 3 se desserre : la sonde lit −127 et 85 de temps en temps.
demo-loose_cable-node-10-ends = Le câble de la sonde du bac 3 est remis en place.
demo-out_of_range-node-06-begins = Une porte en acier coupe node-06 de la radio. La carte garde ses mesures.
demo-out_of_range-node-06-ends = La porte en acier s’ouvre ; node-06 envoie d’un coup quatre heures de mesures passées.
demo-stuck-node-12-begins = La sonde du bac 5 reste bloquée sur une valeur.
demo-stuck-node-12-ends = La sonde du bac 5 est remplacée.
demo-dead-node-13-begins = La pile de node-13 est vide ; la carte du bac 6 se tait.
demo-dead-node-13-ends = node-13 reçoit une pile neuve.
demo-covered-bin-4-begins = Un autre bac est posé sur le bac 4, plein de larves dans leurs jours les plus chauds : l’air n’entre plus.
demo-covered-bin-4-ends = Le soigneur retire le bac du dessus et remue le bac 4.
demo-draught-cage-2-begins = La porte près de la cage à mouches 2 s’ouvre sous le vent dans le froid de la nuit.
demo-draught-cage-2-ends = La porte près de la cage à mouches 2 est fermée.
demo-power_cut-farm-begins = Le courant manque dans toute la ferme : chauffages, lampes et radio sont coupés.
demo-power_cut-farm-ends = Le courant est revenu. Certaines cartes ont gardé leurs mesures, les autres redémarrent.
