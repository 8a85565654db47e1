# Le retour à partir d’une copie : `restore`.

restore-fetching = On va chercher la copie
restore-copy = Copie de { $title } ({ $site })
restore-from = de { $source }
restore-made = faite { $at }
restore-until = mesures jusqu’à { $at }, il y a { $length }
restore-no_readings = aucune mesure
restore-cohorts = { $count ->
    [0] aucune cohorte en vie
    [one] une cohorte en vie : { $names }
   *[other] { $count } cohortes en vie : { $names }
}
restore-alarms = { $count ->
    [0] aucune alarme ouverte
    [one] une alarme ouverte
   *[other] { $count } alarmes ouvertes
}
restore-photos = { $count ->
    [0] aucune photo
    [one] une photo
   *[other] { $count } photos
}
restore-photos_missing = { $count ->
    [one] l’une d’elles n’y est plus
   *[other] { $count } d’entre elles n’y sont plus
}
restore-secrets_none = aucun secret : clés, mots de passe et adresses sont à redonner
restore-secrets_closed = des secrets, mais non ouverts : sans la phrase de passe, clés, mots de passe et adresses sont à redonner
restore-secrets_opened = secrets : ouverts
restore-outside = écrit aussi dans { $folders }
restore-passed_over = { $count ->
    [one] Une copie est datée d’après maintenant et n’a pas été prise : { $names }. Pour la prendre : --copy NOM
   *[other] { $count } copies sont datées d’après maintenant et n’ont pas été prises : { $names }. Pour en prendre une : --copy NOM
}
restore-passphrase = Phrase de passe des copies (vide : continuer sans secrets) :
restore-sure = Mettre tout cela à sa place, dans { $folder } ? Ce qui y est déjà est gardé à côté. [o/N]
restore-nothing = Rien n’a été changé. Pour le faire sans question, donner --yes.
restore-done = Tout est à sa place : réglages { $file }, base de données { $database }
restore-moved = Dans les réglages, ces clés nommaient l’ancien dossier et partent maintenant du dossier du fichier : { $keys }
restore-kept = { $count ->
    [one] Ce qui était là avant est gardé : { $files }
   *[other] Ce qui était là avant est gardé : { $files }
}
restore-left = { $count ->
    [one] Laissé tel quel sur cet ordinateur : { $files }. Pour prendre celui de la copie, donner --everything.
   *[other] Laissés tels quels sur cet ordinateur : { $files }. Pour prendre ceux de la copie, donner --everything.
}
restore-missing = Ce qui manque encore
restore-give_files = Secrets à réécrire dans leurs fichiers (chmod 600) : { $names }
restore-give_keys = Secrets à réécrire dans les réglages : { $names }
restore-give_variables = Secrets à remettre dans l’environnement : { $names }
restore-page_is_new = La page a de nouvelles clés : chacun se connecte à nouveau. Si les réglages n’ont pas de mot de passe du propriétaire, `run` en écrit un premier dans un fichier et le nomme. Les téléphones reçoivent à nouveau des messages une fois qu’on les y active.
restore-photos_lost = { $count ->
    [one] Une photo n’était plus dans aucune copie ; sa note est là.
   *[other] { $count } photos n’étaient plus dans aucune copie ; leurs notes sont là.
}
restore-boards_need_cards = Les mots de passe des cartes et l’autorité de la ferme n’étaient pas dans la copie : écrire un nouveau mot de passe dans le fichier que nomme { "[" }broker], lancer `rearing-monitor broker setup --new-ca`, puis `rearing-monitor board card NOM` pour chaque carte.
restore-not_filled = Aucune mesure n’a été prise dans l’archive : { $why } Quand elle répondra :
restore-checked = Vérifié : il peut tourner avec ces réglages. Ce qui est surveillé à chaque endroit : { $command }
restore-test_later = Quand ce sera corrigé : rearing-monitor send-test
restore-next = La suite
restore-next_broker = { $command } : donne ses fichiers à mosquitto, avec les noms de cet ordinateur
restore-next_boards = Les cartes n’ont besoin de rien : elles continuent avec leurs fiches, dès que cet ordinateur se trouve à l’adresse de l’ancien.
restore-next_boards_at = Les cartes n’ont besoin de rien : elles continuent avec leurs fiches, dès que cet ordinateur se trouve sous le nom { $names }.
restore-next_run = { $command }, ou comme service : sudo systemctl enable --now rearing-monitor
